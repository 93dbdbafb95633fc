"""The pages of counts, also for a phone at the shelf."""

from fleet.late import late

__getattr__ = late(__name__)
