"""Matching: which pupil should have which horn. A proposal changes nothing."""
