"""What a player presses for every note, and what is said about it."""
