"""Commands about loans."""
