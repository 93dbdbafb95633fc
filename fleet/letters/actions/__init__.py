"""Sends letters, takes in those that came back, makes and revokes calendar keys. Only this layer writes."""
