"""The pages of counts, also for a phone at the shelf."""
