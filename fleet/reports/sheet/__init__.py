"""The sheet that every print is drawn on. Nothing else draws; it knows no document.

`lines` breaks words, `table` and `ruled` draw lists; labels use a bare page. `turn(own=True)` begins a letter or sheet
that is numbered for itself, `entry()` gives it a line in the PDF's contents.
"""
