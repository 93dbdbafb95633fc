"""The page behind the link in a letter to an address that is not on record any more: "this was not me".

Who had the address need not be able to sign in: the door stands open, and the secret in the address is the key.
"""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache

from fleet.ground.answering import answer, sure
from fleet.people.actions.objecting import object_to_change
from fleet.people.actions.telling import tell
from fleet.people.models import AddressChange
from fleet.people.queries.addresses import telling_of_objection
from fleet.people.queries.objections import change_of
from fleet.people.queries.seats import SeatedRequest


@never_cache
def not_me(request: SeatedRequest, secret: str) -> HttpResponse:
    """Only the button does it: programs that look through mail open links, too."""
    change = change_of(secret, request.now)
    if change is None:
        return render(request, "people/not_me.html", status=404)

    def act() -> AddressChange:
        objected = object_to_change(change=change, by=None, at=request.now)
        tell(telling_of_objection(change, at=request.now))
        return objected

    return answer(
        request,
        sure(request),
        act,
        page="people/not_me.html",
        shown=lambda: {"change": change},
        said=gettext("Thank you. The heads of the school read of it on their first page and look into it."),
        then=lambda _: reverse("account_login"),
    )
