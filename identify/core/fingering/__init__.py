"""What a player presses for every note, and what is said about it.

`charts.chart(build, stand)` gives every written note with its ways, the conventional one first. Which partials are
taught depends only on where the tube's partial 1 would be written. Nothing further than 35 cents from its note is
offered without `Way.warning`.
"""
