"""Signing: how a loan comes about, from choosing a horn to handing it out."""
