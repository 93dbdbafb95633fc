"""The pages people arrive at, and those that show several slices at once."""

from fleet.late import late

__getattr__ = late(__name__)
