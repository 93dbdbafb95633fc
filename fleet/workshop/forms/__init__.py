"""Forms of the bench: each turns what was typed into the words of the actions."""
