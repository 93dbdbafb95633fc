"""The walk of checks: what staff observe of an unlabelled horn, and what the horn must therefore be.

Owns the questions, the reasoning behind them (`identify.core`, plain Python) and their pages.
It keeps no records and knows nothing of schools, loans or repairs.

The address is the whole walk (`walk`): the checks by key, `cant-tell` for one asked in vain, `again` for those looked
at twice, `horn` for a walk about a registered horn, `step` for the page wanted; without it whatever comes next.
Valves, slide sets, test note and build come in that order, without those that would decide nothing; then the core
says what would. Drawings are templates, so that their lines follow the ink of the page.
"""
