"""What is read about the bench: how horns are, whose turn it is, what is due. No lock, no write."""
