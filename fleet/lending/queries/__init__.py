"""Reads what is so about loans. Nothing in here locks or writes."""
