"""Spreadsheets in and out: files read, columns matched, a preview, writing in batches, undo; lists and whole schools out.

What a row means and how it is written stays with its slice; here is how it gets there. No record lives only here.
"""
