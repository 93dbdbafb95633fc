"""Lending: a loan from its first day to its last, with what went out and came back, and the agreement it is under.

It says who has a horn and until when; the horn itself stays in the register. Its tables are named `loans`.
"""
