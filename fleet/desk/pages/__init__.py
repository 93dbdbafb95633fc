"""The pages people arrive at, and those that show several slices at once."""
