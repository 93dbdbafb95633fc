"""Names taken out of the records, and the invented school loaded."""
