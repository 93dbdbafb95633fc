"""The buttons that say in which language to go on."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpResponse
from django.urls import reverse

from fleet.ground.addresses import way_back
from fleet.ground.answering import answer_elsewhere, posted
from fleet.people.actions.families import speak
from fleet.people.forms.families import LanguageForm
from fleet.people.queries.seats import SeatedRequest


def choose_language(request: SeatedRequest) -> HttpResponse:
    """Kept with the family that is signed in, and in the browser for whoever comes before they sign in."""
    form = LanguageForm(posted(request))

    def act() -> None:
        if request.user.is_authenticated:
            speak(account=request.user, language=form.cleaned_data["language"], by=request.user, at=request.now)

    answer = answer_elsewhere(request, form, act, to=way_back(request, reverse("desk:home")))
    if form.is_valid():
        answer.set_cookie(
            settings.LANGUAGE_COOKIE_NAME,
            form.cleaned_data["language"],
            path=settings.SESSION_COOKIE_PATH,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
    return answer
