"""Reads what was put before families and what was signed. Nothing in here locks or writes."""
