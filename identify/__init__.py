"""The walk of checks: what staff observe of an unlabelled horn, and what the horn must therefore be.

Owns the questions, the reasoning behind them (`identify.core`, plain Python) and their pages.
It keeps no records and knows nothing of schools, loans or repairs.
"""
