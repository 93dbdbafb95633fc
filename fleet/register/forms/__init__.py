"""What people type about horns, looked at before anything is written."""
