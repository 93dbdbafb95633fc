"""Who should have which horn: plain rows in, a proposal out. No queries in here, and nothing is changed.

Read in this order: rows, points (what each pair is worth), by_kinds, assigning, reasons, remedies, years.

As many pupils as possible are served; then the points of all pairs are added up. Points are whole numbers in
float64, so sums are exact and ties are real. A rule that "must be so" takes pairs out instead of costing points. A
*shortage* is reached from a pupil without a horn: it has one horn too few for each who goes without, which proves that
nobody could do better. Remedies are one more assignment over horns that could be had, with minutes for cost.
"""
