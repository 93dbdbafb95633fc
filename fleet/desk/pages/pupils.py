"""Pupils, their classes and guardians for teaching staff."""

from __future__ import annotations

import secrets

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _s
from django.utils.translation import ngettext as _s_many
from django_tables2 import RequestConfig

from fleet.desk.pages.pupil_table import PupilsAndHorns
from fleet.desk.queries.pupils import leaving, page_of
from fleet.ground.addresses import origin_of, searched_for, way_back
from fleet.ground.answering import answer, answer_elsewhere, posted, sure
from fleet.ground.tables import as_typed
from fleet.ground.wording import day, in_a_row
from fleet.lending.actions.pupils import amend, merge, merge_guardians, on_record, strike_out
from fleet.mail.queries import refused
from fleet.matching.actions import rename_class
from fleet.people.actions.families import add_pupil, let_go, save_guardian
from fleet.people.actions.objecting import look_into, may_change_address
from fleet.people.actions.telling import tell
from fleet.people.forms.classes import ClassNameForm
from fleet.people.forms.families import GuardianForm, PupilForm, StillAnswersForm, StrikeOutForm
from fleet.people.forms.twice import EnteredTwiceForm, SameGuardianForm
from fleet.people.models import Guardian, Opening, Pupil
from fleet.people.pages.openings import note_opening
from fleet.people.pages.proving import ask_for_proof
from fleet.people.queries.addresses import tellings_of_change, tellings_of_joining
from fleet.people.queries.classes import classes as classes_of
from fleet.people.queries.classes import page_of_classes
from fleet.people.queries.objections import objected_of
from fleet.people.queries.proof import lately_proven
from fleet.people.queries.seats import SeatedRequest
from fleet.record.queries.pointing import on_record as on_record_of
from fleet.signing.actions.putting_before import take_off


@as_typed
def pupils(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    words = searched_for(request)
    table = PupilsAndHorns(school, words, today=request.today)
    RequestConfig(request).configure(table)
    shown = {"table": table, "page": table.data.page, "leaving": leaving(school, words, request.today)}
    return render(request, "people/pupils.html", {**shown, "q": words})


def pupil(request: SeatedRequest, pk: int) -> HttpResponse:
    seat = request.seat
    page = page_of(pk, seat.school, request.today)
    if page is None:
        raise Http404
    note_opening(request, pupil=page.pupil)
    owed = [(one, one.address(seat)) for one in page.owed]
    return render(request, "people/pupil.html", {"pupil": page.pupil, "page": page, "owed": owed})


def pupil_new(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    form = PupilForm(posted(request), instance=Pupil(school=school))
    return answer(
        request,
        form,
        lambda: add_pupil(school=school, said=form.cleaned_data, by=request.user, at=request.now),
        page="people/pupil_edit.html",
        said=lambda pupil: _s("%(pupil)s is on record. Now add who answers for them.") % {"pupil": pupil.name},
        then=lambda pupil: request.seat.here("people:guardian-new", pupil.pk),
    )


def pupil_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    note_opening(request, pupil=pupil)
    form = PupilForm(posted(request), instance=pupil)
    return answer(
        request,
        form,
        lambda: amend(pupil=pupil, changes=form.cleaned_data, by=request.user, at=request.now),
        page="people/pupil_edit.html",
        shown=lambda: {"pupil": pupil},
        said=lambda now: _s("%(now)s is saved.") % {"now": now.name},
        then=lambda now: request.seat.here("people:pupil", now.pk),
    )


def pupil_strike_out(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    form = StrikeOutForm(posted(request))
    return answer(
        request,
        form,
        lambda: strike_out(pupil=pupil, by=request.user, at=request.now, **form.cleaned_data),
        page="people/pupil_strike_out.html",
        shown=lambda: {"pupil": pupil},
        said=lambda now: _s("%(now)s is struck out and stands in no list any more.") % {"now": now.name},
        then=lambda _: request.seat.here("people:pupils"),
    )


def pupil_twice(request: SeatedRequest, pk: int) -> HttpResponse:
    """A pupil who was entered twice: what is on record goes to the other record."""
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school).select_related("school"), pk=pk)
    note_opening(request, pupil=pupil)
    form = EnteredTwiceForm(posted(request), person=pupil, words=request.GET.get("q", ""))
    by, at = request.user, request.now

    def put_together() -> Pupil:
        into = form.cleaned_data["into"]
        letters = [
            one for guardian in pupil.guardians.all() for one in tellings_of_joining(into, guardian, by=by, at=at)
        ]
        done = merge(twice=pupil, into=into, by=by, at=at)
        tell(letters)
        return done

    return answer(
        request,
        form,
        put_together,
        page="people/pupil_twice.html",
        shown=lambda: {"pupil": pupil, "held": on_record(pupil), "guardians": pupil.guardians.order_by("pk")},
        said=lambda now: _s("Both records are now that of %(name)s.") % {"name": now.name},
        then=lambda now: request.seat.here("people:pupil", now.pk),
        refused_on="into",
    )


def classes(request: SeatedRequest) -> HttpResponse:
    """Every class with how many are in it, each the way to its other name."""
    page = page_of_classes(request.seat.school, request.GET.get("page"), in_none=False)
    return render(request, "people/classes.html", {"page": page})


def class_rename(request: SeatedRequest) -> HttpResponse:
    """Another name for a class; that of another class makes one of the two."""
    school, was = request.seat.school, request.GET.get("class", "")
    known = dict(classes_of(school))
    if not was or was not in known:
        return redirect("people:classes", school.slug)
    form = ClassNameForm(posted(request), was=was, known=known)
    left = Pupil.objects.at(school).filter(group=was).exclude(left_on=None).count()
    return answer(
        request,
        form,
        lambda: rename_class(
            school=school,
            was=was,
            name=form.cleaned_data["name"],
            together=form.together,
            by=request.user,
            at=request.now,
        ),
        page="people/class_rename.html",
        shown=lambda: {"was": was, "many": known[was], "left": left},
        said=lambda many: (
            _s_many("%(group)s has %(many)s pupil.", "%(group)s has %(many)s pupils.", many)
            % {"group": form.cleaned_data["name"], "many": many}
        ),
        then=lambda _: request.seat.here("people:classes"),
        refused_on="name",
    )


def guardian_new(request: SeatedRequest, pk: int) -> HttpResponse:
    pupil = get_object_or_404(Pupil.objects.at(request.seat.school), pk=pk)
    form = GuardianForm(posted(request), instance=Guardian(school=request.seat.school))
    by, at = request.user, request.now

    def save() -> Guardian:
        letters = tellings_of_joining(pupil, form.instance, by=by, at=at)
        saved = save_guardian(guardian=form.instance, pupil=pupil, by=by, at=at)
        tell(letters)
        return saved

    return answer(
        request,
        form,
        save,
        page="people/guardian.html",
        shown=lambda: {"pupil": pupil},
        said=lambda guardian: in_a_row(
            _s("%(guardian)s answers for %(pupil)s.") % {"guardian": guardian.name, "pupil": pupil.name},
            _signs_later(guardian, request),
        ),
        then=lambda _: way_back(request, request.seat.here("people:pupil", pupil.pk)),
    )


def guardian_edit(request: SeatedRequest, pk: int) -> HttpResponse:
    guardian = get_object_or_404(Guardian, school=request.seat.school, pk=pk)
    note_opening(request, guardian=guardian)
    answers = StillAnswersForm(posted(request), guardian=guardian)
    form = GuardianForm(posted(request), instance=guardian, answers=answers)

    before = Guardian.objects.select_related("school").get(pk=guardian.pk)
    # Who reads that address signs: an open session is not yet the person who may say so.
    if form.is_valid() and _address_moves(before, form) and not lately_proven(request):
        return ask_for_proof(request, "people:guardian-edit")

    def save() -> Guardian:
        gone, by, at = answers.let_go(), request.user, request.now
        secret = secrets.token_urlsafe(20)
        link = origin_of(request) + reverse("address-objection", args=(secret,))
        if _address_moves(before, form):
            may_change_address(guardian=before, by=by, at=at)
        letters = tellings_of_change(before, guardian.email, let_go=gone, link=link, by=by, at=at)
        saved = save_guardian(guardian=guardian, secret=secret, by=by, at=at)
        let_go(guardian=saved, pupil_ids=gone, by=by, at=at)
        take_off(guardian=saved, pupil_ids=gone, by=by, at=at)
        tell(letters)
        return saved

    return answer(
        request,
        form,
        save,
        page="people/guardian.html",
        shown=lambda: {
            "answers": answers,
            "guardian": guardian,
            "objected": objected_of(guardian),
            "letters_refused": refused([before.email]),
        },
        said=lambda saved: in_a_row(
            _s("%(guardian)s is saved.") % {"guardian": saved.name}, _signs_later(saved, request)
        ),
        then=lambda _: request.seat.here("people:pupils"),
    )


def guardian_twice(request: SeatedRequest, pk: int) -> HttpResponse:
    """A guardian who was entered twice: what is on record goes to the other record, and who signed hears of it."""
    guardian = get_object_or_404(Guardian.objects.select_related("school"), school=request.seat.school, pk=pk)
    note_opening(request, guardian=guardian)
    form = SameGuardianForm(posted(request), person=guardian, words=request.GET.get("q", ""))
    by, at = request.user, request.now
    # As with an address: an open session is not yet the person who may say who signs.
    if form.is_valid() and not lately_proven(request):
        return ask_for_proof(request, "people:guardian-twice")
    answers_for = list(guardian.pupils.in_order())

    def put_together() -> Guardian:
        into = form.cleaned_data["into"]
        letters = [one for pupil in answers_for for one in tellings_of_joining(pupil, into, by=by, at=at)]
        gone = {pupil.pk for pupil in answers_for} if into.email else set()
        letters += tellings_of_change(guardian, guardian.email, let_go=gone, by=by, at=at)
        letters += tellings_of_change(into, into.email or guardian.email, let_go=(), by=by, at=at)
        done = merge_guardians(twice=guardian, into=into, by=by, at=at)
        tell(letters)
        return done

    return answer(
        request,
        form,
        put_together,
        page="people/guardian_twice.html",
        shown=lambda: {
            "guardian": guardian,
            "answers_for": answers_for,
            "held": on_record_of(guardian, besides={Opening}),
        },
        said=lambda now: in_a_row(
            _s("Both records are now that of %(name)s: %(reached)s.") % {"name": now.name, "reached": now.reached},
            _signs_later(now, request),
        ),
        then=lambda now: request.seat.here("people:guardian-edit", now.pk),
        refused_on="into",
    )


def guardian_looked(request: SeatedRequest, pk: int) -> HttpResponse:
    guardian = get_object_or_404(Guardian, school=request.seat.school, pk=pk)
    return answer_elsewhere(
        request,
        sure(request),
        lambda: look_into(guardian=guardian, by=request.user, at=request.now),
        to=request.seat.here("people:guardian-edit", guardian.pk),
        said=_s("It is off the first page of the heads."),
    )


def _address_moves(before: Guardian, form: GuardianForm) -> bool:
    return bool(before.email.lower() != form.cleaned_data["email"])


def _signs_later(guardian: Guardian, request: SeatedRequest) -> str:
    ready = guardian.signs_from(request.now) if guardian.email else None
    if ready is None:
        return ""
    return _s("The address signs on their page from %(ready)s; on paper they sign at once.") % {
        "ready": day(timezone.localdate(ready))
    }
