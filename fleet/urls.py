"""The address map. Whatever is not in `fleet.ground.access` stays closed, even when it stands here."""

import re

from allauth.account import views as account
from django.urls import URLPattern, URLResolver, include, path, re_path, register_converter
from django.urls.converters import StringConverter
from django.views.generic import RedirectView

from fleet.along import urls as along
from fleet.counting import urls as counting
from fleet.desk import urls as desk
from fleet.exchange import urls as exchange
from fleet.late import LatePage
from fleet.lending import urls as lending
from fleet.letters import urls as letters
from fleet.letters.pages import calendar
from fleet.matching import urls as matching
from fleet.people import urls as people
from fleet.people.pages.issuers import by_issuer, by_issuer_back, by_issuer_go
from fleet.people.pages.languages import choose_language
from fleet.people.pages.objecting import not_me
from fleet.people.pages.own_account import sign_out_everywhere
from fleet.people.pages.proving import ByCode
from fleet.register import urls as register
from fleet.register.pages import identifying, listening
from fleet.reports import urls as reports
from fleet.signing import urls as signing
from fleet.watch.answered import alive, ready, robots, security
from fleet.workshop import urls as workshop


class Base36(StringConverter):
    """An account's number in a letter's link: the key behind it has a dash of its own, so no dash may be in here."""

    regex = "[0-9A-Za-z]+"


register_converter(Base36, "base36")


def second_step(view: str) -> LatePage:
    """A page of the second step. What reads passkeys would be a tenth of what a worker holds at rest."""
    module, _, name = view.rpartition(".")
    return LatePage(f"allauth.mfa.{module}", name)


account_pages = [
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("sign-out/everywhere/", sign_out_everywhere, name="account_sign_out_everywhere"),
    path("code/", account.request_login_code, name="account_request_login_code"),
    path("code/confirm/", account.confirm_login_code, name="account_confirm_login_code"),
    path("with/<slug:key>/", by_issuer, name="account_by_issuer"),
    path("with/<slug:key>/go/", by_issuer_go, name="account_by_issuer_go"),
    path("with/<slug:key>/back/", by_issuer_back, name="account_by_issuer_back"),
    path("inactive/", account.account_inactive, name="account_inactive"),
    path("reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("reauthenticate/code/", ByCode.as_view(), name="account_reauthenticate_by_code"),
    path("password/change/", account.password_change, name="account_change_password"),
    path("password/set/", account.password_set, name="account_set_password"),
    path("password/reset/", account.password_reset, name="account_reset_password"),
    path("password/reset/done/", account.password_reset_done, name="account_reset_password_done"),
    path(
        "password/reset/key/<base36:uidb36>-<str:key>/",
        account.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path(
        "password/reset/key/done/",
        account.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
    *(
        path(f"second-factor/{at}", second_step(view), name=f"mfa_{view.rpartition('.')[2]}")
        for at, view in {
            "": "base.views.index",
            "ask/": "base.views.authenticate",
            "again/": "base.views.reauthenticate",
            "app/activate/": "totp.views.activate_totp",
            "app/deactivate/": "totp.views.deactivate_totp",
            "recovery/": "recovery_codes.views.view_recovery_codes",
            "recovery/generate/": "recovery_codes.views.generate_recovery_codes",
            "recovery/download/": "recovery_codes.views.download_recovery_codes",
        }.items()
    ),
    path("passkeys/", RedirectView.as_view(pattern_name="mfa_index"), name="mfa_list_webauthn"),
    *(
        path(f"passkeys/{at}", second_step(f"webauthn.views.{view}"), name=f"mfa_{view}")
        for at, view in {
            "new/": "add_webauthn",
            "sign-in/": "login_webauthn",
            "again/": "reauthenticate_webauthn",
            "<int:pk>/remove/": "remove_webauthn",
        }.items()
    ),
]


def of_slice(name: str, pages: list[URLPattern]) -> URLResolver:
    """The pages of a slice, asked only where one of them has such an address: Django asks one page after the other, and
    the last of a school's 160 was found after a third of a millisecond."""
    addresses = "|".join(re.sub("<[^>]+>", "[^/]+", re.escape(str(page.pattern))) for page in pages)
    return re_path(f"^(?=(?:{addresses})$)", include((pages, name)))


# By the name of their addresses, what is asked for most first. Four slices have one name: no page that names one of
# them has to know which slice it is.
school_pages = {
    "register": register.urlpatterns,
    "people": desk.pupil_pages + people.urlpatterns,
    "loans": lending.urlpatterns + signing.urlpatterns + letters.urlpatterns + matching.urlpatterns,
    # The walk's pages belong to identify, which may not know the register; its counts come in from here.
    "identify": [
        path("identify/", identifying.walk, name="walk"),
        path("identify/listen/", listening.listen, name="listen"),
    ],
    "workshop": workshop.urlpatterns,
    "counting": counting.urlpatterns,
    "reports": reports.urlpatterns,
    "exchange": exchange.urlpatterns,
    "along": along.urlpatterns,
}

urlpatterns = [
    path("s/<slug:school>/", include([of_slice(name, pages) for name, pages in school_pages.items()])),
    path("", include("fleet.desk.urls")),
    path("alive/", alive, name="alive"),
    path("ready/", ready, name="ready"),
    path("robots.txt", robots, name="robots"),
    path(".well-known/security.txt", security, name="security"),
    path("account/", include(account_pages)),
    path("calendar/<str:secret>.ics", calendar.feed, name="calendar-feed"),
    path("language/", choose_language, name="language"),
    path("not-me/<str:secret>/", not_me, name="address-objection"),
]

# What is answered when a request cannot be read or something breaks: pages that ask nothing of what may be broken.
handler400 = "fleet.trouble.unread"
handler500 = "fleet.trouble.broke"
