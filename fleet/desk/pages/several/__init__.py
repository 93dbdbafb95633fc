"""Acts on many rows of a list at once: ticked, looked at before, done, and undone where that can be."""
