"""Who should have which horn: plain rows in, a proposal out. No queries in here, and nothing is changed.

Read in this order: rows, points (what each pair is worth), assigning, reasons, remedies.
"""
