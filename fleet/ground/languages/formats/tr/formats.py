"""A day of the month without a nought before it."""

DATE_FORMAT = "j F Y"
DATETIME_FORMAT = "j F Y, H:i"
