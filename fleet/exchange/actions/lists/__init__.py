"""The kinds of list that come in, each in a module: its columns, what a row means, how rows are written and undone."""
