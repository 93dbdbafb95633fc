"""The pages of letters and of the calendar."""

from fleet.late import late

__getattr__ = late(__name__)
