"""Reads which letters are due, what they say, and what stands in a calendar. Nothing in here locks or writes."""
