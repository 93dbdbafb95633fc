"""The pages of loans."""

from fleet.late import late

__getattr__ = late(__name__)
