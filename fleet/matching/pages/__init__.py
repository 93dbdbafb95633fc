"""The pages of matching."""

from fleet.late import late

__getattr__ = late(__name__)
