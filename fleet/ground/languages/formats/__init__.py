"""How days are written, a package a language."""
