"""What the slices say together: today, of one horn, to one family. No lock, no write."""
