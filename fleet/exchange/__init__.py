"""Spreadsheets in and out: lists read, matched, shown, written in batches, undone; lists and whole schools sent out.

What a row means and how it is written stays with its slice; here is how it gets there. No record lives only here.
"""
