"""The pages of matching."""
