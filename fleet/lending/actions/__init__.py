"""What happens to a loan. Only this layer writes its rows."""
