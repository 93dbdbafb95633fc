"""Pages of lists on their way in, and lists as files on their way out."""
