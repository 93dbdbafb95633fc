"""Putting before, signing, handing out. Only this layer writes signatures."""
