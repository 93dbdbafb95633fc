"""Charts and horns as pictures, before they are SVG or PDF.

`picture.svg` puts a `Picture` on a page, `fleet.reports.sheet.pictured` the same one on paper. Words are set by the
page's own letters, so widths in an engraving leave room for wide ones.
"""
