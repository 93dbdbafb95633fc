"""What a recording holds: from the numbers of a file to the note, the tube and a record's claim.

`sound.read_sound` (a WAV in memory, never trusted) → `listening.listen` → `notes.HeardNote`. `spectrum` makes many
short spectra and one long one; `proposals` proposes notes from the peaks and describes each; `steadiness` follows the
best one and looks for a second; `wavering` straightens a note that wobbles, `halves` weighs what each half holds. Two
scores with weights in data/hearing.toml choose the note and say how far to trust it. A fact that is changed means
fitting again, a quarter of an hour: `make bench-hear ARGS=--tune` draws from one sound font and made tones only, so
that the other fonts stay fit to measure on.

`open_notes.find_tube` sums over every tuning and every way to count the partials; `claim` judges a record from at least
three notes, `sounded` the test note and the step-down; `kept_notes` is what remains of all of them.
"""
