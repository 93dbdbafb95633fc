"""A batch of loans before it is one: pairs of pupil and horn and what they share, as the address holds them.

Nothing of it is stored. A batch is read in a fixed number of queries, however many pairs it has.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import OuterRef, Prefetch, Subquery
from django.http import Http404, QueryDict
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _s

from fleet.ground.addresses import whole
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import current_agreement
from fleet.lending.queries.loans import has_now
from fleet.people.models import Guardian, Pupil, School
from fleet.people.queries.school_days import school_days
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from fleet.signing.actions.putting_before import take_back_first
from fleet.signing.forms.particulars import SharedForm
from fleet.signing.models import MOST_IN_A_BATCH, OnlineSignature, SheetOut, Terms
from fleet.signing.queries.waiting import of_horns, sheets_of
from fleet.workshop.models import ConditionCheck


@dataclass
class BatchLoan:
    """One pair. `stop` says why it cannot be issued, with `way_out` the address that would change it. `sheet` is the
    horn's that is with this pupil's family, `sheets_elsewhere` are those with others."""

    pupil: Pupil
    horn: Horn
    check: ConditionCheck | None
    guardians: list[Guardian]
    guardian: Guardian | None = None
    has_now: list[Horn] = field(default_factory=list)
    stop: str = ""
    way_out: str = ""
    way_label: str = ""
    seen: int | None = None
    stale: bool = False
    refused: str = ""
    ticked: bool = False
    online: OnlineSignature | None = None
    sheet: SheetOut | None = None
    sheet_differs: bool = False
    sheets_elsewhere: list[SheetOut] = field(default_factory=list)

    @property
    def key(self) -> str:
        return f"{self.pupil.pk}.{self.horn.pk}"

    @property
    def is_ready(self) -> bool:
        return not self.stop and self.guardian is not None and self.check is not None

    @property
    def signed_online(self) -> bool:
        return self.online is not None and self.online.signed_at is not None

    @property
    def is_at_home(self) -> bool:
        """Whether exactly this loan lies with the family: the version of the agreement it shows stays good."""
        return self.online is not None or (self.sheet is not None and not self.sheet_differs)

    @property
    def may_be_asked(self) -> bool:
        """Whether the guardian has a page of their own to sign on, and was not asked yet."""
        return self.is_ready and self.online is None and self.guardian is not None and self.guardian.user_id is not None


def pairs_in_query(pairs: Iterable[tuple[int, int]]) -> str:
    return urlencode([("pair", f"{pupil}.{horn}") for pupil, horn in pairs])


@dataclass
class LoanBatch:
    """What the address says: the entries in the order of the pupils' names, and the form they share.

    `form` is bound once it has been sent; `agreement` is the version the sheets show, `in_force` the newest one.
    `dropped` counts pairs beyond those a batch may have.
    """

    school: School
    today: date
    entries: list[BatchLoan]
    form: SharedForm
    agreement: Agreement
    in_force: Agreement
    dropped: int = 0
    asked: QueryDict = field(default_factory=QueryDict)

    @property
    def is_whole(self) -> bool:
        return self.form.is_bound and self.form.is_valid()

    @property
    def is_earlier(self) -> bool:
        return self.agreement != self.in_force

    def terms(self, entry: BatchLoan) -> Terms:
        """What the loan of an entry with guardian and check is to be, under what was shown of it."""
        assert entry.guardian is not None, "asked of what is ready"
        assert entry.check is not None, "asked of what is ready"
        return {
            "horn": entry.horn,
            "pupil": entry.pupil,
            "guardian": entry.guardian,
            "agreement_version": self.agreement.version,
            "check_seen": entry.check.pk if entry.seen is None else entry.seen,
            "due_on": self.form.cleaned_data["due_on"],
            "accessories": self.form.along(),
        }

    @property
    def ready(self) -> list[BatchLoan]:
        return [entry for entry in self.entries if entry.is_ready]

    @property
    def on_paper(self) -> list[BatchLoan]:
        """Those whose sheet may go home to be signed: an earlier version goes to no family any more."""
        return [] if self.is_earlier else [entry for entry in self.ready if entry.online is None]

    @property
    def to_ask(self) -> list[BatchLoan]:
        return [] if self.is_earlier else [entry for entry in self.ready if entry.may_be_asked]

    @property
    def waiting(self) -> list[BatchLoan]:
        """Those on a family's page and not signed yet."""
        return [entry for entry in self.ready if entry.online is not None and not entry.signed_online]

    @property
    def signed_online(self) -> list[BatchLoan]:
        return [entry for entry in self.ready if entry.signed_online]

    @property
    def sheets_out(self) -> list[SheetOut]:
        """Those with the families of this batch."""
        return [entry.sheet for entry in self.entries if entry.sheet is not None]

    @property
    def stale(self) -> bool:
        return any(entry.stale for entry in self.entries)

    def query(self, entries: Iterable[BatchLoan] | None = None, *, back: bool = False, fresh: bool = False) -> str:
        """The address's query for these entries, naming the checks and the agreement their sheets show.

        With `fresh` these are the newest ones; with `back` it leads to the step where things are chosen.
        """
        entries = self.entries if entries is None else entries
        said = QueryDict(mutable=True)
        for entry in entries:
            check = entry.check.pk if entry.check is not None else None
            check = check if fresh or entry.seen is None else entry.seen
            said.appendlist("pair", entry.key if back or check is None else f"{entry.key}.{check}")
            if len(entry.guardians) > 1 and entry.guardian is not None:
                said[f"signs-{entry.pupil.pk}"] = str(entry.guardian.pk)
        if self.form.is_bound:
            for name in ("due_on", "accessories", "more"):
                said.setlist(name, self.asked.getlist(name))
        if back:
            said["step"] = "change"
        else:
            said["agreement"] = str(self.in_force.version if fresh else self.agreement.version)
        return said.urlencode()


def batch_from(asked: QueryDict, school: School, today: date, seat: Seat, *, address: str) -> LoanBatch:
    """Read the address. Pupils and horns that are not of this school are a 404. Nine queries.

    `address` is the page's own, for ways to other pages that lead back here.
    """
    wanted = _wanted(asked.getlist("pair"))
    pupils = _pupils(school, [pupil for pupil, _, _ in wanted])
    horns = _horns(school, [horn for _, horn, _ in wanted])
    checks = ConditionCheck.objects.in_bulk([horn.newest_check for horn in horns.values() if horn.newest_check])  # type: ignore[attr-defined]
    if any(pupil not in pupils or horn not in horns for pupil, horn, _ in wanted):
        raise Http404("No such pupil or horn.")
    bound, in_force = "due_on" in asked, current_agreement(school)
    batch = LoanBatch(
        school=school,
        today=today,
        entries=[],
        form=SharedForm(asked if bound else None, today=today, days=school_days(school)),
        agreement=_version(in_force, whole(asked.get("agreement"))),
        in_force=in_force,
        dropped=max(0, len(wanted) - MOST_IN_A_BATCH),
        asked=asked,
    )
    asked_of, sheets = of_horns(school, list(horns)), sheets_of(list(horns))
    for pupil, horn, seen in wanted[:MOST_IN_A_BATCH]:
        lent = horns[horn]
        entry = BatchLoan(pupils[pupil], lent, checks.get(lent.newest_check), list(pupils[pupil].guardians.all()))  # type: ignore[attr-defined]
        entry.has_now = [loan.horn for loan in pupils[pupil].has_now]  # type: ignore[attr-defined]
        entry.guardian = _signer(entry, asked.get(f"signs-{pupil}", ""))
        batch.entries.append(entry)
        entry.seen = seen
        for sheet in (one for one in sheets if one.horn_id == horn):
            if sheet.pupil_id == pupil:
                entry.sheet = sheet
            else:
                entry.sheets_elsewhere.append(sheet)
        _look_home(entry, batch, asked_of.get(horn))
        _stop(entry, batch, seat, address, asked_of.get(horn))
    batch.entries.sort(key=lambda entry: (entry.pupil.sorted_by, entry.pupil.pk, entry.horn.pk))
    return batch


def _wanted(said: list[str]) -> list[tuple[int, int, int | None]]:
    """(pupil, horn, check seen or None) of each pair, each pair once. Nonsense is a 404, like any row there is not."""
    found: dict[tuple[int, int], int | None] = {}
    for pair in said:
        pupil, horn, check = (whole(part) for part in (pair + "..").split(".")[:3])
        if pupil is None or horn is None:
            raise Http404("No such pair.")
        found[pupil, horn] = check
    return [(pupil, horn, check) for (pupil, horn), check in found.items()]


def _version(in_force: Agreement, said: int | None) -> Agreement:
    """The version that was said, else the one in force. One query when it is an earlier one."""
    if said is None or said == in_force.version:
        return in_force
    return Agreement.objects.filter(school=in_force.school_id, version=said).first() or in_force


def _pupils(school: School, keys: list[int]) -> dict[int, Pupil]:
    signers = Prefetch("guardians", Guardian.objects.order_by("sorted_by", "pk"))
    found = Pupil.objects.at(school).filter(pk__in=keys).prefetch_related(has_now(), signers)
    return {pupil.pk: pupil for pupil in found}


def _horns(school: School, keys: list[int]) -> dict[int, Horn]:
    newest = ConditionCheck.objects.filter(horn=OuterRef("pk")).order_by("-at", "-pk")
    found = Horn.objects.at(school).filter(pk__in=keys)
    return {horn.pk: horn for horn in found.annotate(newest_check=Subquery(newest.values("pk")[:1]))}


def _look_home(entry: BatchLoan, batch: LoanBatch, asked: OnlineSignature | None) -> None:
    """What lies with the guardian for exactly this loan, on their page or on paper, and no loan came of yet."""
    if not batch.is_whole or entry.guardian is None or entry.check is None:
        return
    terms = batch.terms(entry)
    if asked is not None and asked.pupil_id == entry.pupil.pk and asked.is_for(**terms):
        entry.online = asked
    entry.sheet_differs = entry.sheet is not None and not entry.sheet.is_for(**terms)


def _signer(entry: BatchLoan, said: str) -> Guardian | None:
    if len(entry.guardians) == 1:
        return entry.guardians[0]
    return next((one for one in entry.guardians if str(one.pk) == said), None)


def _stop(entry: BatchLoan, batch: LoanBatch, seat: Seat, address: str, asked: OnlineSignature | None) -> None:
    """Say on the entry what keeps it from being issued, and the way out of that. `asked` is what waits for its horn."""
    pupil, horn = entry.pupil, entry.horn
    reasons = horn.kept_back_from(horn.promised_to)
    before = batch.entries[:-1]
    if reasons:
        entry.stop = reasons[0].sentence
        if seat.may("desk:horn"):
            # The horn's page knows the next step; looking for it here would cost queries for every horn.
            entry.way_out = reverse("desk:horn", args=[batch.school.slug, horn.pk])
            entry.way_label = _s("See %(horn)s") % {"horn": horn}
    elif asked is not None and asked.pupil_id != pupil.pk:
        entry.stop = asked.waits_in_words
        way = take_back_first(horn)
        entry.way_out = f"{way.address(batch.school.slug)}&{urlencode({'next': address})}"
        entry.way_label = way.label
    elif gone := pupil.gone(batch.today):
        entry.stop = gone
    elif any(other.horn.pk == horn.pk for other in before):
        entry.stop = _s("%(horn)s is in this batch for somebody else already.") % {"horn": horn}
    elif any(other.pupil.pk == pupil.pk for other in before):
        entry.stop = _s("%(pupil)s is in this batch with another horn already.") % {"pupil": pupil}
    elif not entry.guardians:
        entry.stop = _s("%(pupil)s has no guardian on record, so nobody can sign.") % {"pupil": pupil}
        new = reverse("people:guardian-new", args=[batch.school.slug, pupil.pk])
        entry.way_out, entry.way_label = f"{new}?{urlencode({'next': address})}", _s("Add a guardian")
    elif entry.check is not None and entry.seen is not None and entry.check.pk != entry.seen:
        entry.stale = True
        entry.stop = _s("%(horn)s was checked again after the sheet was printed. Print it again.") % {"horn": horn}
    elif batch.is_earlier and not entry.is_at_home:
        entry.stale = True
        entry.stop = _s("The agreement has a newer version than the sheet. Print it again.")
