"""Prints of loans: sheets, lists and letters. Printing writes nothing but who looked, where people are named."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Exists, OuterRef, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.ground.addresses import day_said, origin_of, whole
from fleet.ground.answering import posted, posted_files
from fleet.ground.due import over
from fleet.ground.files.pdfs import laid_behind
from fleet.lending.models import Agreement, Loan
from fleet.lending.queries.agreements import current_agreement
from fleet.letters.models import Letter
from fleet.letters.queries.composing import composed
from fleet.letters.queries.due import due_letters
from fleet.letters.queries.rules import rules_of
from fleet.mail.queries import has_server
from fleet.people.forms.classes import class_asked
from fleet.people.models import Pupil
from fleet.people.pages.openings import note_opening
from fleet.people.queries.seats import SeatedRequest
from fleet.reports.paper.lists import class_drawn, overdue_drawn, overdue_letters_drawn
from fleet.reports.paper.loan_sheet import loan_sheets_drawn
from fleet.reports.queries.loan_facts import ALSO, WITH, SheetFacts, of_batch, of_draft, of_loan, of_nobody
from fleet.reports.sheet.page import as_pdf, paper_asked
from fleet.signing.forms.agreements import AgreementForm
from fleet.signing.forms.batches import batch_from
from fleet.signing.forms.drafts import draft_from
from fleet.workshop.queries.condition import open_findings, open_findings_of

MOST_SHEETS = 1000


def loan_sheet(request: SeatedRequest, pk: int) -> HttpResponse:
    loan = get_object_or_404(Loan.objects.at(request.seat.school).select_related("pupil"), pk=pk)
    note_opening(request, pupil=loan.pupil)
    return loan_sheet_answer(loan, request)


def agreement(request: SeatedRequest) -> HttpResponse:
    """A loan sheet of nobody's with the words that were sent, or with those of a `version`."""
    school = request.seat.school
    form = AgreementForm(posted(request), posted_files(request), school=school)
    if form.is_bound and not form.is_valid():
        messages.warning(request, " ".join(str(one) for errors in form.errors.values() for one in errors))
        return redirect("loans:agreement", school.slug)
    shown = current_agreement(school)
    if form.is_bound:
        own = form.cleaned_data["own"] or (shown.own.name, shown.own_pages)
        shown = Agreement(
            school=school,
            version=shown.version + 1,
            words=form.said["words"],
            in_languages=form.said["in_languages"],
            made_at=request.now,
        )
        if form.cleaned_data["own"] or not form.cleaned_data["without_own"]:
            shown.own, shown.own_pages = own
    language = request.GET.get("language", "")
    if form.is_bound:
        language = next(iter(form.said["in_languages"]), "")
    elif (version := whole(request.GET.get("version"))) is not None and version != shown.version:
        shown = get_object_or_404(Agreement, school=school, version=version)
    language = language if language in school.languages else school.language
    facts = of_nobody(shown, request.today, language)
    return sheet_answer(request, facts, f"agreement-{shown.version}")


def sheet_to_sign(request: SeatedRequest) -> HttpResponse:
    """The sheet of a loan that the address describes. What cannot be lent goes back to the page that says why."""
    school = request.seat.school
    draft = draft_from(request.GET, school, request.today)
    if draft.horn is None or not draft.is_whole or draft.horn.kept_back_from(draft.pupil.name if draft.pupil else ""):
        return redirect(f"{reverse('loans:issue', args=[school.slug])}?{draft.query()}")
    draft.horn.school = school
    note_opening(request, pupil=draft.pupil)
    facts = of_draft(draft, open_findings(draft.horn))
    return sheet_answer(request, facts, f"to-sign-{draft.horn}")


def loan_sheets(request: SeatedRequest) -> HttpResponse:
    """The sheets of many open loans as one PDF: those named by `loan`, of a class (`group`), or issued `on` a day."""
    school = request.seat.school
    loans = Loan.objects.at(school).open()
    keys = [key for said in request.GET.getlist("loan") if (key := whole(said)) is not None]
    if keys:
        loans = loans.filter(pk__in=keys)
    of_class = class_asked(request.GET, school)
    if of_class.errors:
        return _ask_for_class(request)
    if of_class.is_bound:
        loans = loans.filter(pupil__group=of_class.cleaned_data["group"])
    if issued := day_said(request.GET.get("on", "")):
        loans = loans.filter(issued_on=issued)
    rows = loans.select_related(*WITH).prefetch_related(*ALSO)
    found = list(rows.order_by("pupil__group_sorted_by", "pupil__sorted_by", "pk")[: MOST_SHEETS + 1])
    if len(found) > MOST_SHEETS:
        messages.warning(
            request, _s("More than %(most)s sheets are too many at once. Choose a class.") % {"most": MOST_SHEETS}
        )
        return redirect("desk:prints", school.slug)
    note_opening(request)
    sheets = (of_loan(loan) for loan in found)
    paper = paper_asked(request, school)
    origin = origin_of(request)
    return as_pdf(loan_sheets_drawn(sheets, school=school, paper=paper, origin=origin), "loan-sheets")


def _ask_for_class(request: SeatedRequest) -> HttpResponse:
    """Back to the prints with what was typed, which say beside it why no class is found."""
    return redirect(f"{reverse('desk:prints', args=[request.seat.school.slug])}?{request.GET.urlencode()}")


def batch_sheets(request: SeatedRequest) -> HttpResponse:
    """The sheets of a class in one PDF: those that wait for nothing but the signature. A batch that is not whole,
    or has no such sheet, goes back to the page that says why."""
    school = request.seat.school
    page = reverse("loans:batch", args=[school.slug])
    address = f"{page}?{request.GET.urlencode()}"
    if "pair" not in request.GET:
        return redirect(page)
    batch = batch_from(request.GET, school, request.today, request.seat, address=address)
    if not batch.is_whole or not batch.ready:
        return redirect(address)
    note_opening(request)
    facts = of_batch(batch, open_findings_of(entry.horn.pk for entry in batch.ready))
    paper = paper_asked(request, school)
    content = loan_sheets_drawn(facts, school=school, paper=paper, origin=origin_of(request))
    return as_pdf(_with_own(content, facts), "sheets-to-sign")


def loan_sheet_answer(loan: Loan, request: HttpRequest) -> HttpResponse:
    """The sheet of a loan as a PDF, on the paper asked for or the school's."""
    loan = Loan.objects.select_related(*WITH).prefetch_related(*ALSO).get(pk=loan.pk)
    return sheet_answer(request, of_loan(loan), f"loan-{loan.horn}-{loan.pk}")


def sheet_answer(request: HttpRequest, facts: SheetFacts, name: str) -> HttpResponse:
    paper = paper_asked(request, facts.school)
    content = loan_sheets_drawn([facts], school=facts.school, paper=paper, origin=origin_of(request))
    return as_pdf(_with_own(content, [facts]), name)


def _with_own(content: bytes, facts: list[SheetFacts]) -> bytes:
    """Sheets under one version of the agreement, with the school's own behind each. One whose file is gone is left
    out."""
    if facts[0].own is None:
        return content
    try:
        with facts[0].own.open("rb") as own:
            return laid_behind(content, own.read(), parts=len(facts))
    except OSError:
        return content


def class_list(request: SeatedRequest) -> HttpResponse:
    """The pupils of a class or ensemble (`group`) with the horns they have; two free columns to tick. Of a class that
    no pupil was ever in there is no sheet."""
    school = request.seat.school
    of_class = class_asked(request.GET, school)
    if of_class.errors:
        return _ask_for_class(request)
    group = of_class.cleaned_data["group"] if of_class.is_bound else ""
    ever = Pupil.objects.at(school).filter(group=group)
    pupils = list(ever.filter(left_on=None).in_order())
    if group and not pupils and not ever.exists():
        messages.warning(request, _s("Nobody is in this class."))
        return _ask_for_class(request)
    loans = (
        Loan.objects.at(school)
        .open()
        .filter(pupil__group=group)
        .select_related("horn")
        .order_by("horn__number_stem", "horn__number_tail")
    )
    today, paper = request.today, paper_asked(request, school)
    note_opening(request)
    content = class_drawn(group, pupils, list(loans), school=school, today=today, paper=paper)
    return as_pdf(content, "class-list")


def overdue_list(request: SeatedRequest) -> HttpResponse:
    school, today = request.seat.school, request.today
    loans = Loan.objects.at(school).overdue(today).select_related("horn", "pupil", "guardian").order_by("due_on", "pk")
    paper = paper_asked(request, school)
    note_opening(request)
    return as_pdf(overdue_drawn(list(loans), school=school, today=today, paper=paper), f"overdue-{today:%Y-%m-%d}")


def overdue_letters(request: SeatedRequest) -> HttpResponse:
    """A page a letter to those whom no e-mail reaches: about what is overdue, and what they are to be told by now. With
    `all`, one to each who is overdue."""
    school, today = request.seat.school, request.today
    rules, paper = rules_of(school), paper_asked(request, school)
    to_all = "all" in request.GET
    due = {loan.pk: why for loan, why in due_letters(school, rules, today)} if rules.reminds and not to_all else {}
    # As with letters by mail: what is here for repair nobody can bring back.
    loans = Loan.objects.at(school).awaited().filter(over("due_on", today) | Q(pk__in=due), horn__on_bench=False)
    if has_server() and not to_all:
        bounced = Letter.objects.undelivered().filter(loan=OuterRef("pk"))
        loans = loans.filter(Q(guardian__email="") | Exists(bounced))
    loans = loans.select_related("horn__school", "pupil", "guardian__school").prefetch_related("periods")
    loans = loans.order_by("pupil__group_sorted_by", "pupil__sorted_by", "pk")

    note_opening(request)
    occasions = ((loan, "after" if loan.days_over(today) else due[loan.pk]) for loan in loans)
    written = ((loan, *composed(loan, occasion, today, rules=rules)) for loan, occasion in occasions)
    return as_pdf(overdue_letters_drawn(written, school=school, today=today, paper=paper), f"letters-{today:%Y-%m-%d}")
