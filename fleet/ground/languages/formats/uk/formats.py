"""A day of the month without a nought before it, and the word for year in full."""

DATE_FORMAT = r"j E Y \р\о\к\у"
DATETIME_FORMAT = r"j E Y \р\о\к\у, H:i"
