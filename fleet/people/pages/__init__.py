"""The pages of settings, staff and signing in."""

from fleet.late import late

__getattr__ = late(__name__)
