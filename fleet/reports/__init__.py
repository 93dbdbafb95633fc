"""Everything printed: one module a document, over one shared page. No tables of its own.

The only place that draws PDFs; what a document says comes from the slices below.
"""
