"""Measures the hearing on sounds rendered for the purpose. Nothing here runs in the site.

The horns come from the sound fonts of Debian's packages, the speech from its telephone prompts; both are
installed by whoever measures, nothing is kept in the repository.
"""
