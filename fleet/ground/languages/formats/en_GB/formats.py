"""`3 May 2027`, which nobody takes for another day."""

DATE_FORMAT = "j F Y"
DATETIME_FORMAT = "j F Y, H:i"
