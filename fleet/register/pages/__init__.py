"""The pages about horns and their places."""

from fleet.late import late

__getattr__ = late(__name__)
