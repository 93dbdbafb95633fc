"""What a phone keeps of a school."""
