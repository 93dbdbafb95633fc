"""Commands about letters."""
