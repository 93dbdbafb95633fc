"""The pages of letters and of the calendar."""
