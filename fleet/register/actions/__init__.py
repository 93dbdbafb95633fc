"""Alone writes horns and what happened to them, each act in one transaction."""
