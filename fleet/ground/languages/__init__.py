"""Which languages the site knows, and whether somebody has read what it says in them."""
