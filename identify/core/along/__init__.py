"""What a phone takes along to reason without a connection: the scales as numbers, and their sentences.

`identify/static/identify/reason.js` reads it and must come to the same verdicts (`tests/browser/test_along`): whoever
changes how a verdict is reached in `reasoning` changes it there too.
"""
