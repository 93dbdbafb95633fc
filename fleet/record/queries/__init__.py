"""Reads the record. It locks nothing and writes nothing."""
