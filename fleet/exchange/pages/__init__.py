"""Pages of lists on their way in, and lists as files on their way out."""

from fleet.late import late

__getattr__ = late(__name__)
