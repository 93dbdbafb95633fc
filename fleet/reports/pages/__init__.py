"""A request becomes a print that opens in the browser."""
