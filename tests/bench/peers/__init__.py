"""Other pages over the rows of ours, which a benchmark asks in the same run."""
