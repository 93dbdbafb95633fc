"""Who may do what: one written table, held against the real URL map by a test.

Everything is closed by default. A page that is not in `OPEN` or `DOORS` answers 404 to everybody.
Strangers to a school get 404, so that they cannot learn what it has; a person of the school who may not
read or do something gets 403. A guardian is a stranger to every page but the family's.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    HEAD = "head"
    TEACHER = "teacher"
    TECHNICIAN = "technician"
    SERVICE = "service"
    GUARDIAN = "guardian"
    NOBODY = "nobody"


class Reach(StrEnum):
    """What a door asks of the person before their role counts."""

    SCHOOL = "a post at the school named in the address"
    FAMILY = "answering for a pupil who is shown there"
    SIGNED_IN = "an account"


HEADS = frozenset({Role.HEAD, Role.SERVICE})
SETTINGS = ("school", "languages", "words", "sentence", "year", "lending", "workshop", "staff", "sign-in")
SERVICE = frozenset({Role.SERVICE})
TEACHING = HEADS | {Role.TEACHER}
BENCH = HEADS | {Role.TECHNICIAN}
STAFF = TEACHING | BENCH
FAMILY = frozenset({Role.GUARDIAN})
NOBODY: frozenset[Role] = frozenset()


@dataclass(frozen=True, slots=True)
class Door:
    """Roles that may read a page (GET, HEAD) and change something through it (POST)."""

    read: frozenset[Role]
    write: frozenset[Role] = NOBODY
    reach: Reach = Reach.SCHOOL


def _both(roles: frozenset[Role]) -> Door:
    return Door(read=roles, write=roles)


DOORS: dict[str, Door] = {
    # desk
    "desk:home": Door(read=STAFF | FAMILY, reach=Reach.SIGNED_IN),
    "desk:benches": Door(read=frozenset({Role.TECHNICIAN}), reach=Reach.SIGNED_IN),
    "desk:label": Door(read=STAFF | FAMILY, reach=Reach.SIGNED_IN),
    "desk:sheet": Door(read=STAFF | FAMILY, reach=Reach.SIGNED_IN),
    "desk:today": Door(read=STAFF),
    "desk:horn": Door(read=STAFF),
    "desk:prints": Door(read=STAFF),
    "desk:picture": Door(read=HEADS),
    "desk:pupil-data": Door(read=HEADS),
    "desk:pupil-forget": _both(HEADS),
    "desk:record": Door(read=HEADS),
    "desk:chart": Door(read=STAFF),
    "desk:chart-xml": Door(read=STAFF),
    "desk:together": Door(read=STAFF),
    "desk:guide": Door(read=STAFF),
    "desk:guide-build": Door(read=STAFF),
    "desk:family": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-horn": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-sign": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-renew": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-lost": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-bring": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-taken-back": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-papers": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-due": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-calendar": Door(read=FAMILY, write=FAMILY, reach=Reach.FAMILY),
    "desk:family-letter": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-data": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-picture": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-chart": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-guide": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-guide-build": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-care": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-sheet": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-signed-sheet": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:family-agreement": Door(read=FAMILY, reach=Reach.FAMILY),
    "desk:several": _both(STAFF),
    "desk:several-checked": _both(STAFF),
    "desk:several-class": _both(TEACHING),
    "desk:several-labels": Door(read=STAFF),
    "desk:several-leavers": _both(TEACHING),
    "desk:several-mouthpieces": _both(STAFF),
    "desk:several-place": _both(STAFF),
    "desk:several-recall": _both(TEACHING),
    "desk:several-renew": _both(TEACHING),
    "desk:several-school-day": _both(TEACHING),
    "desk:several-sheets": Door(read=TEACHING),
    # register
    "register:horns": Door(read=STAFF),
    "register:horn-new": _both(STAFF),
    "register:horn-edit": _both(STAFF),
    "register:identified": _both(STAFF),
    "register:stand": _both(STAFF),
    "register:sound": Door(read=STAFF),
    "register:standing": _both(HEADS),
    "register:disposal": _both(STAFF),
    "register:disposal-decide": _both(HEADS),
    "register:horn-place": _both(STAFF),
    "register:photograph": Door(read=STAFF),
    "register:photograph-add": Door(read=STAFF, write=STAFF),
    "register:photograph-remove": _both(STAFF),
    "register:label-sheet": _both(HEADS),
    "register:places": Door(read=STAFF),
    "register:place-new": _both(TEACHING),
    "register:place-edit": _both(TEACHING),
    "register:place-twice": _both(TEACHING),
    # identify
    "identify:walk": Door(read=STAFF),
    # A recording is sent by POST; it is listened to and nothing is written.
    "identify:listen": _both(STAFF),
    # workshop
    "workshop:bench": Door(read=STAFF),
    "workshop:visit": Door(read=STAFF),
    **dict.fromkeys(("workshop:check-new", "workshop:mended-now"), _both(STAFF)),
    **{f"workshop:{page}": Door(read=STAFF) for page in ("check", "check-photograph", "check-where")},
    "workshop:job-new": _both(STAFF),
    "workshop:job": Door(read=STAFF, write=BENCH),
    "workshop:invoice": Door(read=BENCH),
    **{f"workshop:job-{page}": _both(BENCH) for page in ("clock", "family", "fault", "invoice", "outside", "part")},
    **{f"workshop:job-{page}": _both(BENCH) for page in ("quote", "work")},
    "workshop:labour": Door(read=STAFF, write=BENCH),
    "workshop:job-fetched": _both(STAFF),
    "workshop:job-approve": _both(HEADS),
    **dict.fromkeys(("workshop:care", "workshop:horn-care", "workshop:care-back"), _both(STAFF)),
    "workshop:parts": Door(read=STAFF),
    **{f"workshop:{page}": _both(BENCH) for page in ("bench-move", "part-new", "part-edit", "part-came")},
    **dict.fromkeys(("workshop:parts-ordered", "workshop:stock-take"), _both(BENCH)),
    "workshop:report": Door(read=STAFF, write=STAFF),
    # counting
    "counting:counts": Door(read=STAFF),
    "counting:count-new": _both(TEACHING),
    "counting:count": Door(read=STAFF),
    "counting:shelf": _both(STAFF),
    "counting:sent": _both(STAFF),
    "counting:undo": _both(STAFF),
    "counting:find-undo": _both(STAFF),
    "counting:end": _both(TEACHING),
    "counting:line": _both(HEADS),
    "counting:find": _both(HEADS),
    "counting:sign": _both(TEACHING),
    # loans
    "loans:loans": Door(read=STAFF),
    "loans:issue": _both(TEACHING),
    "loans:loan": Door(read=STAFF),
    "loans:of-horn": Door(read=STAFF),
    "loans:of-pupil": Door(read=TEACHING),
    "loans:return": _both(TEACHING),
    "loans:mouthpiece": Door(read=STAFF, write=STAFF),
    "loans:return-of": Door(read=TEACHING),
    "loans:mouthpiece-of": Door(read=STAFF),
    "loans:agreement": _both(HEADS),
    "loans:back": _both(TEACHING),
    **{f"loans:{page}": _both(TEACHING) for page in ("noted", "note-away")},
    "loans:renew": _both(TEACHING),
    "loans:recall": _both(TEACHING),
    "loans:swap": _both(TEACHING),
    "loans:lost": _both(TEACHING),
    "loans:new-year": _both(HEADS),
    "loans:charges": Door(read=TEACHING),
    "loans:charge-new": _both(TEACHING),
    "loans:charge": Door(read=TEACHING, write=HEADS),
    "loans:accessory": _both(TEACHING),
    "loans:ask": _both(TEACHING),
    "loans:wishes": Door(read=TEACHING),
    "loans:wish-new": _both(TEACHING),
    "loans:wish-end": _both(TEACHING),
    "loans:reserve": _both(TEACHING),
    "loans:calendar": _both(STAFF),
    "loans:letters": _both(TEACHING),
    "loans:letter": _both(TEACHING),
    "loans:letter-words": _both(HEADS),
    "loans:names-kept": _both(HEADS),
    "loans:batch": _both(TEACHING),
    "loans:sheets-away": _both(TEACHING),
    **dict.fromkeys(("loans:sheet-out", "loans:signed-sheet-new", "loans:signed-sheet-remove"), _both(TEACHING)),
    **dict.fromkeys(("loans:sheets-together", "loans:signed-sheet", "loans:agreement-own"), Door(read=TEACHING)),
    "loans:signed": _both(TEACHING),
    "loans:matching": Door(read=TEACHING),
    "loans:matching-rules": _both(TEACHING),
    # What the school paid for horns stands there.
    "loans:buying": Door(read=HEADS),
    # reports
    "reports:loan-sheet": Door(read=STAFF),
    **{
        f"reports:{page}": Door(read=STAFF) for page in ("chart", "labels", "care-card", "checks-poster", "build-cards")
    },
    **{f"reports:{page}": Door(read=STAFF) for page in ("handover", "count-sheet", "count-report", "disposal-record")},
    # Words that nobody has saved are sent by POST; they are printed and nothing is written.
    "reports:agreement": _both(HEADS),
    "reports:sheet-to-sign": Door(read=TEACHING),
    "reports:batch-sheets": Door(read=TEACHING),
    **dict.fromkeys(("reports:bench-day", "reports:repair-list", "reports:order-list"), Door(read=STAFF)),
    **dict.fromkeys(("reports:job-tags", "reports:job-ticket"), Door(read=STAFF)),
    "reports:condition-report": Door(read=STAFF),
    "reports:job-order": _both(BENCH),
    **{
        f"reports:{page}": Door(read=TEACHING)
        for page in ("loan-sheets", "class-list", "overdue-list", "overdue-letters")
    },
    "reports:insurance": Door(read=HEADS),
    "reports:yearly-report": Door(read=HEADS),
    # exchange
    "exchange:imports": _both(HEADS),
    "exchange:import": _both(HEADS),
    "exchange:columns": _both(HEADS),
    "exchange:refused": Door(read=HEADS),
    "exchange:rows": _both(HEADS),
    "exchange:closing": Door(read=HEADS, write=SERVICE),
    "exchange:closing-agree": _both(HEADS),
    "exchange:horns-out": Door(read=STAFF),
    "exchange:pupils-out": Door(read=TEACHING),
    "exchange:loans-out": Door(read=STAFF),
    "exchange:past-loans-out": Door(read=TEACHING),
    "exchange:charges-out": Door(read=TEACHING),
    **{f"exchange:{page}-out": Door(read=STAFF) for page in ("jobs", "orders", "parts")},
    # along
    **{f"along:{page}": Door(read=STAFF) for page in ("along", "cupboard", "kept", "scales", "manifest", "worker")},
    # people
    "people:pupils": Door(read=TEACHING),
    "people:pupil-new": _both(TEACHING),
    "people:pupil": Door(read=TEACHING),
    "people:pupil-edit": _both(TEACHING),
    "people:pupil-strike-out": _both(TEACHING),
    "people:pupil-twice": _both(TEACHING),
    "people:classes": Door(read=TEACHING),
    "people:class-rename": _both(TEACHING),
    "people:guardian-new": _both(TEACHING),
    "people:guardian-edit": _both(TEACHING),
    "people:guardian-twice": _both(TEACHING),
    "people:guardian-looked": _both(HEADS),
    "people:settings": Door(read=HEADS),
    **{f"people:settings-{one}": _both(HEADS) for one in SETTINGS},
    "people:holiday-new": _both(HEADS),
    "people:holiday-edit": _both(HEADS),
    "people:openings": Door(read=HEADS),
    "people:staff-new": _both(HEADS),
    "people:staff-edit": _both(HEADS),
}
# The doors that stand open: signing in, and what a browser or a watchdog asks for by itself.
OPEN: frozenset[str] = frozenset(
    {
        *(f"account_{one}" for one in ("login", "logout", "inactive", "request_login_code", "confirm_login_code")),
        *(f"account_by_issuer{one}" for one in ("", "_go", "_back")),
        "account_reset_password",
        "account_reset_password_done",
        "account_reset_password_from_key",
        "account_reset_password_from_key_done",
        "mfa_authenticate",
        "mfa_login_webauthn",
        "alive",
        "ready",
        "robots",
        "security",
        # A calendar program cannot sign in: its address holds a secret of 160 bits, and 404 answers any other.
        "calendar-feed",
        # Whose address was changed may have no other way in: the letter's link holds a secret of 160 bits.
        "address-objection",
        "language",
    }
)
# Pages of one's own account: anybody who has signed in, for themselves only.
OWN_ACCOUNT: frozenset[str] = frozenset({
    "account_change_password", "account_set_password", "account_sign_out_everywhere", "account_reauthenticate",
    "account_reauthenticate_by_code", "mfa_reauthenticate", "mfa_index", "mfa_list_webauthn", "mfa_add_webauthn",
    "mfa_remove_webauthn", "mfa_reauthenticate_webauthn", "mfa_activate_totp", "mfa_deactivate_totp",
    "mfa_view_recovery_codes", "mfa_generate_recovery_codes", "mfa_download_recovery_codes",
})  # fmt: skip
# Pages that an open session alone does not open: they give rights away, or take along or away what is known of people.
# A change of the password is not among them, since it asks for the old one.
PROVEN: frozenset[str] = frozenset(
    {
        "account_set_password",
        "mfa_activate_totp",
        "mfa_deactivate_totp",
        "mfa_add_webauthn",
        "mfa_remove_webauthn",
        "mfa_view_recovery_codes",
        "mfa_generate_recovery_codes",
        "mfa_download_recovery_codes",
        "desk:pupil-data",
        "desk:pupil-forget",
        "desk:family-data",
        "exchange:closing",
        "exchange:closing-agree",
        "exchange:horns-out",
        "exchange:pupils-out",
        "exchange:loans-out",
        "exchange:past-loans-out",
        "exchange:charges-out",
        "people:staff-new",
        "people:staff-edit",
    }
)
