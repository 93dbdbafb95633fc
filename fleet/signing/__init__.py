"""Signing: how a loan comes about, from choosing a horn to handing it out.

A signature on the family's page is good for exactly the horn, pupil, due date, check, accessories and version it was
shown with (`OnlineSignature.is_for`). One horn waits on one family's page: until it is taken back or lent it is not put
before another. A sheet that went home on paper (`SheetOut`) is waited for and keeps its horn from nobody. A batch has
no row: `queries.awaited` puts what waits together again by what it shares.
"""
