"""What people do with their own account beside the account library's pages."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext

from fleet.people.actions.accounts import end_sessions
from fleet.people.queries.seats import SeatedRequest


def sign_out_everywhere(request: SeatedRequest) -> HttpResponse:
    """A button; opened as a page it leads to where the button stands."""
    if request.method != "POST":
        return redirect("mfa_index")
    end_sessions(user=request.user, by=request.user, at=request.now)
    logout(request)
    messages.success(request, gettext("You are signed out here and everywhere else."))
    return redirect("account_login")
