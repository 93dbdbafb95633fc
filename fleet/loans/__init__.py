"""Lending: agreements and their versions, loans with what went out and came back, who signed and when.

It says who has a horn and until when; the horn itself stays in the register.
"""
