"""Lists and whole schools brought in. Only here does the slice write."""
