"""Reads who is who. It locks nothing and writes nothing."""
