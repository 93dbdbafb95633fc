"""What is measured on a site, or a school, that has processes of its own."""
