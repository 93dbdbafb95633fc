"""Arabic."""
