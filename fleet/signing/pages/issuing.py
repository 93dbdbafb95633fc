"""Issuing a horn: choose the horn, choose the pupil, say what goes along, print, have it signed, issue.

Every step is an address with all that was chosen before, so the back button, a locked phone and the way to a
condition check and back lose nothing. Only the last step changes anything.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _s

from fleet.ground.addresses import searched_for, way_back, whole
from fleet.ground.answering import answer, answer_elsewhere, one_of, posted, status_of, sure
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused, WayOut
from fleet.ground.tables import as_typed
from fleet.ground.wording import day
from fleet.lending.queries.loans import has_now
from fleet.people.models import Pupil, School
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.signing.actions.handing_out import hand_out
from fleet.signing.actions.putting_before import put_before, take_back
from fleet.signing.actions.sheets import send_home
from fleet.signing.forms.drafts import Draft, draft_from, of_draft
from fleet.signing.forms.particulars import OtherForm, ParticularsForm, SignedForm
from fleet.signing.models import OnlineSignature, SheetOut, Terms
from fleet.signing.queries.fitting import Misfit, misfits
from fleet.signing.queries.waiting import can_be_signed, sheets_of, waiting_for
from fleet.workshop.queries.condition import open_findings

SHOWN = 20
STEPS = (_s_lazy("Horn"), _s_lazy("Pupil"), _s_lazy("What goes along"), _s_lazy("Sign and issue"))


@as_typed
def issue(request: SeatedRequest) -> HttpResponse:
    draft = draft_from(request.GET, request.seat.school, request.today)
    horn = draft.horn
    if draft.pupil and draft.pupil.left_on and request.method != "POST":
        other = WayOut("loans:issue", _s("Choose another pupil"), query=(("horn", str(horn.pk)),) if horn else ())
        return _page(request, "refused", draft, 1, refused=Refused(draft.pupil.gone(draft.today), way_out=other))
    if horn is None:
        return _choose_horn(request, draft)
    act = one_of(request, {"take-back-other": _take_back_other}) or _with_horn
    return act(request, draft, horn)


def _with_horn(request: SeatedRequest, draft: Draft, horn: Horn) -> HttpResponse:
    """The first step that is not done yet, of a draft with a horn."""
    form = draft.form
    # What it is promised to is shown on this page, with the way to take it back.
    reasons = horn.kept_back_from(horn.promised_to)
    if reasons and request.method != "POST":
        return _page(request, "refused", draft, 0, refused=Refused.because(reasons[0]))
    if form is None:
        query = searched_for(request)
        return _page(request, "pupil", draft, 1, q=query, pupils=_pupils(draft.school, query))
    then = request.GET.get("then") if draft.is_whole else ""
    if then == "check":
        return redirect(_check_address(draft, horn))
    if draft.is_whole and (request.method == "POST" or then == "sign"):
        return _sign(request, draft, horn, form)
    return _page(request, "particulars", draft, 2, findings=open_findings(horn), ways=_ways(draft))


def _sign(request: SeatedRequest, draft: Draft, horn: Horn, form: ParticularsForm) -> HttpResponse:
    """What will be issued, to be looked over; then the signature and the act."""
    online, terms, button = of_draft(draft, horn, form), _terms(request, horn, form), sure(request)
    signed = None if online and online.signed_at else SignedForm(posted(request), today=draft.today)
    deed = partial(_deed, request, draft, online)

    def ask() -> HttpResponse:
        return deed(
            button,
            lambda: put_before(**terms, by=request.user, at=request.now),
            said=lambda made: (
                _s("%(guardian)s finds it on their page; the next letters say so. It waits on Today.")
                % {"guardian": made.guardian}
            ),
        )

    def take_it_back() -> HttpResponse:
        return deed(
            button,
            # The page offers this only while it is not signed.
            lambda: (
                take_back(signature=online, signed_seen=False, by=request.user, at=request.now)
                if online is not None
                else None
            ),
            said=_s("It is taken back from the family’s page."),
        )

    def print_it() -> HttpResponse:
        return deed(
            button,
            lambda: send_home(loans=[terms], by=request.user, at=request.now),
            said="",
            then=lambda _: f"{request.seat.here('reports:sheet-to-sign')}?{draft.query()}",
        )

    def issue_it() -> HttpResponse:
        return deed(
            button if signed is None else signed,
            lambda: hand_out(
                **terms,
                signed_on=None if signed is None else signed.cleaned_data["signed_on"],
                online=online if signed is None else None,
                by=request.user,
                at=request.now,
            ),
            said=lambda loan: (
                _s("%(horn)s is out with %(pupil)s until %(due_on)s.")
                % {"horn": loan.horn, "pupil": loan.pupil, "due_on": day(loan.due_on)}
            ),
            then=lambda loan: request.seat.here("loans:loan", loan.pk),
        )

    act = one_of(request, {"ask": ask, "print": print_it, "take-back": take_it_back}) or issue_it
    return act()


def _deed(
    request: SeatedRequest,
    draft: Draft,
    online: OnlineSignature | None,
    form: forms.Form,
    act: Callable[[], Any],
    *,
    said: Callable[[Any], str] | str,
    then: Callable[[Any], str] | None = None,
) -> HttpResponse:
    """The answer of the last step, which leads on to itself but for what `then` says."""
    again = f"{request.path}?{draft.query(then='sign')}"
    return answer(
        request,
        form,
        act,
        page="loans/issue_sign.html",
        shown=lambda: {
            **_shown(request, draft, 3),
            "signed": form if isinstance(form, SignedForm) else SignedForm(today=draft.today),
            "online": online,
            "findings": open_findings(draft.horn) if draft.horn else [],
        },
        said=said,
        then=then or (lambda _: again),
    )


def _terms(request: SeatedRequest, horn: Horn, form: ParticularsForm) -> Terms:
    """What the loan is to be, under the agreement and the check that the page showed."""
    return {
        "horn": horn,
        "pupil": form.pupil,
        "guardian": form.cleaned_data["guardian"],
        "agreement_version": whole(request.GET.get("agreement")) or 0,
        "check_seen": whole(request.GET.get("check")) or 0,
        "due_on": form.cleaned_data["due_on"],
        "accessories": form.along(),
    }


def _take_back_other(request: SeatedRequest, draft: Draft, horn: Horn) -> HttpResponse:
    """Takes back what was put before another family, as this page showed it, and leads back to where it stood."""
    one, form = waiting_for(horn), OtherForm(posted(request))
    return answer_elsewhere(
        request,
        form,
        lambda: (
            take_back(signature=one, signed_seen=form.cleaned_data["signed_seen"], by=request.user, at=request.now)
            if one is not None and form.names(one)
            else None
        ),
        to=way_back(request, f"{request.path}?{request.GET.urlencode()}"),
        said=lambda done: (
            _s("%(horn)s is taken back from %(guardian)s’s page.") % {"horn": horn, "guardian": done.guardian}
            if done
            else ""
        ),
    )


def _choose_horn(request: SeatedRequest, draft: Draft) -> HttpResponse:
    query = searched_for(request)
    horns = Horn.objects.at(draft.school).kept().select_related("place").by_number()
    if query:
        exact = horns.filter(number__iexact=query).first() if "sent" in request.GET else None
        # While somebody types, and on the way back, the list only narrows; a number that is sent opens its horn.
        if exact is not None:
            draft.horn = exact
            return redirect(f"{request.path}?{draft.query()}")
        horns = horns.having_words(query, school=draft.school)
    else:
        horns = horns.may_be_lent()
        horns = horns.exclude(build="")
    found = list(horns[: SHOWN + 1])
    # What speaks against each is said in the list; a better one only once a horn is chosen.
    against = _misfits(draft, found[:SHOWN], with_better=False)
    offered = [(horn, against.get(horn.pk)) for horn in found[:SHOWN]]
    return _page(request, "horn", draft, 0, q=query, horns=found, offered=offered, shown=SHOWN)


def _pupils(school: School, query: str) -> list[Pupil]:
    """At most `SHOWN` + 1 pupils, each with the loans that are open. Two queries."""
    found = Pupil.objects.listed(school, query).in_order()
    return list(found.prefetch_related(has_now())[: SHOWN + 1])


def _page(request: SeatedRequest, name: str, draft: Draft, place: int, **more: Any) -> HttpResponse:
    shown = {**_shown(request, draft, place), **more}
    return render(request, f"loans/issue_{name}.html", shown, status=status_of(request))


def steps_at(place: int, labels: Sequence[Any], addresses: Sequence[str]) -> list[dict[str, Any]]:
    """The steps as a page at that place shows them: those that are done lead back, where they have an address."""
    return [
        {
            "label": label,
            "state": "here" if at == place else "done" if at < place else "",
            "address": address if at < place else "",
        }
        for at, (label, address) in enumerate(zip(labels, addresses, strict=True))
    ]


def _shown(request: SeatedRequest, draft: Draft, place: int) -> dict[str, Any]:
    """What every step shows: the steps, what was chosen, for whom the horn waits where it is somebody else, and who has
    a sheet of it."""
    links = [
        "",
        draft.query(pupil=draft.pupil.pk) if draft.pupil else "",
        draft.query(),
        draft.query(then="sign") if draft.is_whole else "",
    ]
    if draft.horn:
        # Choosing another horn keeps the pupil; choosing another pupil keeps the horn.
        links[0] = f"pupil={draft.pupil.pk}" if draft.pupil else ""
        links[1] = f"horn={draft.horn.pk}"
    waits = waiting_for(draft.horn) if draft.horn is not None else None
    own = waits is not None and draft.pupil is not None and waits.pupil_id == draft.pupil.pk
    if waits is not None and own and can_be_signed(waits, draft.today):
        waits = None
    sheets = sheets_of([draft.horn.pk]) if draft.horn is not None else []
    misfit = _misfits(draft, [draft.horn]).get(draft.horn.pk) if draft.horn is not None and place >= 2 else None
    known = {
        "draft": draft,
        "misfit": misfit,
        "better": draft.query(horn=misfit.better.pk, check=None, agreement=None) if misfit and misfit.better else "",
        "steps": steps_at(place, STEPS, [f"?{one}" for one in links]),
        "shown": SHOWN,
        "waits": waits,
        "own": own,
        "sheets": sheets,
        "differs": _differs(request, draft, sheets),
        "next": request.GET.get("next", ""),
    }
    if draft.is_whole:
        known |= {"whole": draft.query(), "change": draft.query(check=None, agreement=None)}
        known["newest"] = draft.query(then="sign", agreement=draft.in_force.version if draft.in_force else None)
    return known


def _misfits(draft: Draft, horns: Sequence[Horn], *, with_better: bool = True) -> dict[int, Misfit]:
    """What speaks against these horns for the pupil who was chosen, by their keys."""
    if draft.pupil is None:
        return {}
    pupil = draft.pupil
    found = misfits(draft.school, [(pupil, horn) for horn in horns], today=draft.today, with_better=with_better)
    return {horn: misfit for (_, horn), misfit in found.items()}


def _differs(request: SeatedRequest, draft: Draft, sheets: list[SheetOut]) -> bool:
    """Whether this pupil's family has a sheet that says something else than what would be issued here."""
    if draft.horn is None or draft.form is None or not draft.is_whole or draft.check is None or draft.agreement is None:
        return False
    terms = _terms(request, draft.horn, draft.form)
    terms["check_seen"], terms["agreement_version"] = draft.check.pk, draft.agreement.version
    return any(one.pupil_id == terms["pupil"].pk and not one.is_for(**terms) for one in sheets)


def _ways(draft: Draft) -> dict[str, str]:
    """Addresses of other slices' pages that lead back here."""
    assert draft.pupil is not None, "particulars are asked for once both are chosen"
    guardian = reverse("people:guardian-new", args=[draft.school.slug, draft.pupil.pk])
    return {"guardian": f"{guardian}?{urlencode({'next': _here(draft)})}"}


def _check_address(draft: Draft, horn: Horn) -> str:
    check = reverse("workshop:check-new", args=[draft.school.slug, horn.pk])
    return f"{check}?{urlencode({'next': _here(draft), 'occasion': 'before-loan'})}"


def _here(draft: Draft) -> str:
    return reverse("loans:issue", args=[draft.school.slug]) + "?" + draft.query()
