"""A request becomes a print that opens in the browser."""

from fleet.late import late

__getattr__ = late(__name__)
