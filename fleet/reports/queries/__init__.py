"""What the prints say, read from the slices. No lock, no write."""
