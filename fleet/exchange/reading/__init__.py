"""Files that come in, as rows of text. It knows no table, and runs nothing it reads."""
