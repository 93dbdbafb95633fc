"""What people type about schools, staff and families, and at the sign-in pages."""
