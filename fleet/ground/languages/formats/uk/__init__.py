"""Ukrainian."""
