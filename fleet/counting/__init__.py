"""Counts of the shelf: the frozen list, what was seen, the differences and their reasons, the signature.

What becomes of a horn after a count is the register's; who has a horn is read from the horn's own row.
"""
