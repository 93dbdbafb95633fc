"""Random histories over the real actions, and what must hold after every one of them."""
