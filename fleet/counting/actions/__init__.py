"""Alone writes counts, each act in one transaction with the count locked."""
