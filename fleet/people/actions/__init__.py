"""Alone writes who is who."""
