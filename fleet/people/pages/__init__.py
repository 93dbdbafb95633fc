"""The pages of settings, staff and signing in."""
