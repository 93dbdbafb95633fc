"""Letters to guardians, and the due dates as a calendar."""
