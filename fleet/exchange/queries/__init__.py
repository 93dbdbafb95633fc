"""How far an import is, and a whole school read out. No lock, no write."""
