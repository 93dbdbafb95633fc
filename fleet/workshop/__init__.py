"""The bench: condition checks with their findings, faults that families report, repair jobs.

It keeps a horn's playing grade and says whether it may be played, not who plays it.
"""
