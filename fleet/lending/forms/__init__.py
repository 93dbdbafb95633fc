"""What people type about a loan that runs or ends."""
