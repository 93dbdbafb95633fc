"""Reads the rows of a matching and what a proposal comes to. Nothing in here locks or writes."""
