"""The site and its records: people, horns, workshop, loans, prints and the pages that read across them.

Owns settings, the URL map and who may do what. It holds no rule about horns; those live in `identify.core`.
"""
