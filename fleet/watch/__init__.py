"""What whoever runs the site sees of it: whether it answers, the lines it writes down, and its figures.

None of it holds what somebody asked, typed, searched for or is called, nor the key of a calendar, nor a code.
"""
