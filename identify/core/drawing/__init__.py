"""Charts and horns as pictures, before they are SVG or PDF."""
