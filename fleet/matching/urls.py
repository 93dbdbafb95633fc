"""Addresses of matching."""

from django.urls import path

from fleet.matching.pages import buying, proposing

urlpatterns = [
    path("matching/", proposing.matching, name="matching"),
    path("matching/rules/", proposing.rules, name="matching-rules"),
    path("matching/buying/", buying.buying, name="buying"),
]
