"""The sheet that every print is drawn on. Nothing else draws; it knows no document."""
