"""Reads counts. It locks nothing and writes nothing."""
