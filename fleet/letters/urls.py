"""Addresses of letters and of a person's own calendar. The feed itself stands in `fleet.urls`, outside any school."""

from django.urls import path

from fleet.letters.pages import calendar, letters

urlpatterns = [
    path("loans/letters/", letters.letters, name="letters"),
    path("loans/letters/<int:pk>/", letters.letter, name="letter"),
    path("loans/letters/words/", letters.letter_words, name="letter-words"),
    path("settings/data-protection/", letters.names_kept, name="names-kept"),
    path("loans/calendar/", calendar.calendar, name="calendar"),
]
