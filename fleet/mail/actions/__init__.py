"""Queueing letters, and handing them to the mail server."""
