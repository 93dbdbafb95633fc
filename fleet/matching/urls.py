"""Addresses of matching."""

from django.urls import path

from fleet.matching import pages

urlpatterns = [
    path("matching/", pages.matching, name="matching"),
    path("matching/rules/", pages.rules, name="matching-rules"),
]
