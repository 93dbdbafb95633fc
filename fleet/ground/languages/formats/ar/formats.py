"""Digits 0 to 9, as a horn's number has them, and with them the point that stands on their keyboards."""

DATE_FORMAT = "j F Y"
DATETIME_FORMAT = "j F Y، H:i"
DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3
