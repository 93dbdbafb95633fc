"""Alone writes the record: adds acts, seals them, takes what is personal out."""
