"""What a family sees and does on its own pages: the horns of its own children, and nothing else. In its language."""

from fleet.late import late

__getattr__ = late(__name__)
