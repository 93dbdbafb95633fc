"""Reads horns. It locks nothing and writes nothing."""
