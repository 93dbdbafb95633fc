"""From what was observed of a horn to what it must be, and why, in sentences."""
