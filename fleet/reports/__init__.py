"""Everything printed: one module a document, over one shared page. No tables of its own.

The only place that draws PDFs; what a document says comes from the slices below. `queries` reads the facts, `paper`
draws them on `sheet`. What staff keep is in the language of who prints it, what goes home in the family's, what
a repairer or a finder reads in the school's. A new print belongs into tests/reports/test_on_paper.py, which draws each
with long names of many scripts. A new figure is a fold (`queries.figures`), a section (`queries.whole_picture`) and a
test that works it out again from the raw rows.
"""
