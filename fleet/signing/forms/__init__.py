"""A loan, or several, before they are made: as the address holds them."""
