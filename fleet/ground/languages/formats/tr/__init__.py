"""Turkish."""
