"""`3 May 2027`, which nobody takes for another day."""

DATE_FORMAT = "j F Y"
DATETIME_FORMAT = "j F Y, H:i"
SHORT_DATE_FORMAT = "j M Y"
SHORT_DATETIME_FORMAT = "j M Y, H:i"
