"""A school with a row in every table, read row by row, and a site emptied: to hold what comes back against it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.files.base import ContentFile
from django.db import models

from fleet.counting.actions.counts import begin
from fleet.counting.actions.finds import keep_find
from fleet.counting.actions.sightings import see
from fleet.exchange.models import RememberedColumns
from fleet.exchange.queries.school_out import export_school
from fleet.exchange.queries.whole_school import tables
from fleet.ground.access import Role
from fleet.lending.models import LoanPeriod, PastLoan
from fleet.letters.models import LendingRules
from fleet.matching.models import ClassPlan, MatchingRules
from fleet.people.models import Opening, School, User
from fleet.record.actions.recording import record
from fleet.record.actions.sealing import seal
from fleet.record.models import Deed
from fleet.register.actions.disposing import propose
from fleet.register.actions.horns import amend_horn
from fleet.register.models import Identification, KindSaid, LabelSheet, Photograph, StandChange, Standing
from fleet.workshop.models import (
    CheckPhotograph,
    Invoice,
    JobStep,
    LabourPrice,
    NotDone,
    OtherQuote,
    Part,
    PartUsed,
    Sitting,
    WorkOrdered,
)
from tests import make


def rows_of(school: School) -> dict[str, list[dict[str, Any]]]:
    """Every row of a school with references as places in the other table: what must survive, whatever its keys."""
    users = list(User.objects.order_by("email").values_list("pk", "email"))
    places: dict[Any, dict[int, Any]] = {User: dict(users)}
    for table in tables():
        keys = table.rows_of(school).values_list("pk", flat=True)
        places[table.model] = {pk: n for n, pk in enumerate(keys)}
    found = {}
    for table in tables():
        rows = []
        for row in table.rows_of(school).values():
            row.pop("id")
            for field in table.model._meta.concrete_fields:
                if (field.many_to_one or field.one_to_one) and row[field.attname] is not None:
                    there = places[field.related_model]
                    # What an act was about may be gone.
                    there = there if field.db_constraint else {row[field.attname]: None, **there}
                    row[field.attname] = there[row[field.attname]]
            if row.get("deed") == Deed.SCHOOL_BROUGHT_IN:
                continue
            rows.append(row)
        found[table.name] = rows
    return found


def emptied() -> None:
    for table in reversed(tables()):
        models.QuerySet(table.model)._raw_delete(using="default")
    User.objects.all().delete()


HARD_WORDS = "=1+1\n\"quotes\", 'apostrophes'; naïve ♭ \\N\r\nlast line"


def furnish() -> School:
    """A school with a row in every table and with text that is hard to carry over."""
    school = make.school(
        slug="hill-road", name="Hill Road", contact="'=x", local_rules=HARD_WORDS, year_ends=make.TODAY
    )
    head, technician = make.staff(Role.HEAD, school), make.staff(Role.TECHNICIAN, school)
    adult = make.guardian(school, name="@Ann")
    make.guardian(school, email="", telephone="+353 1 234", with_account=False)
    adult.address_changes.create(before="old@example.org", at=make.NOW, digest="5e", objected_at=make.NOW)
    pupil, left = make.pupil(school, adult, name="Ada Quill"), make.pupil(school, left_on=make.TODAY)
    room = make.place(school, room="Room 1", shelf="Top")
    make.holiday(school, name=HARD_WORDS[:60])
    school.own_words.create(language="de", text="Questions", said=HARD_WORDS[:60])
    horns = [
        make.horn(school, number="H-1", build="double-full", stands_in="F", place=room, price=Decimal("12.30")),
        make.horn(school, number="H-2", build="", described_as="double F/Bb", notes=HARD_WORDS, created_by=head),
        make.horn(school, number="H-3", maker="\\N", withdrawn_on=make.TODAY, acquired_on=make.TODAY),
    ]
    picture = ContentFile(b"\xff\xd8 a picture", name="x.jpg")
    size = {"width": 20, "height": 30}
    Photograph.objects.create(horn=horns[0], at=make.NOW, by=head, image=picture, caption="bell", **size)
    Identification.objects.create(
        horn=horns[0], at=make.NOW, by=head, observations={"valves": "4", "thumb": "cant-tell"}, build="double-full",
        stands_in="F", settled=True, probability=0.1 + 0.2,
    )  # fmt: skip
    KindSaid.objects.create(horn=horns[0], at=make.NOW, by=head, build="double-full", stands_in="F")
    StandChange.objects.create(horn=horns[0], at=make.NOW, by=head, before="Bb", after="F", reason="-")
    Standing.objects.create(horn=horns[2], at=make.NOW, by=head, kind="withdrawn", on=make.TODAY, reason="crushed")
    amend_horn(horn=horns[1], changes={"number": "H-20"}, by=head, at=make.NOW)
    make.agreement(school, own=ContentFile(make.pdf(), name="own.pdf"), own_pages=1)
    loan = make.loan(horns[0], pupil, head, return_notes="\t tab first")
    ended = make.loan(horns[2], left, head, issued_on=make.TODAY - timedelta(days=90), returned_on=make.TODAY)
    ended.accessories.filter(name="case").update(
        came_back=False, settled_as="replaced", settled_on=make.TODAY, settled_by=technician
    )
    CheckPhotograph.objects.create(check_made=loan.check_at_issue, image=picture, **size)
    job = make.job(horns[1], head, technician=technician, state="bench", cost=Decimal("0.10"), minutes=0)
    JobStep.objects.create(
        job=job, at=make.NOW + timedelta(microseconds=1), by=technician, state="bench", words="begun"
    )
    make.finding(loan.check_at_issue, job=job)
    make.report(horns[0], adult.user, pupil=pupil, job=job)
    PastLoan.objects.create(horn=horns[1], pupil=left, issued_on=make.TODAY, returned_on=make.TODAY)
    make.charge(loan, head)
    make.ask(loan, adult.user)
    make.return_note(loan, head, words="\t strap", sent_as=uuid4(), received_at=make.NOW)
    make.letter(loan)
    make.signature(horns[0], pupil, head)
    make.sheet(horns[1], pupil, head)
    make.sheet(horns[0], pupil, head, put_away_at=make.NOW, loan=loan)
    make.signed_sheet(loan, head, "signed.pdf")
    make.wish(pupil, head, horn=horns[1], reserved_until=make.TODAY)
    LoanPeriod.objects.create(
        loan=loan, kind="renewed", due_before=loan.due_on, due_on=loan.due_on + timedelta(days=9), at=make.NOW, by=head
    )
    LendingRules.objects.create(school=school, after_words=HARD_WORDS)
    MatchingRules.objects.create(school=school)
    ClassPlan.objects.create(school=school, group="5b", room="Room 1")
    LabelSheet.objects.create(school=school)
    count = begin(school=school, places=[room], by=head, at=make.NOW)
    see(count=count, horn=horns[0], place=room, key="a-tap-of-the-head", by=head, at=make.NOW)
    keep_find(count=count, words="no label", place=room, key="a-find-of-the-head", by=head, at=make.NOW)
    propose(horn=horns[1], method="scrapped", on=make.TODAY, reason="Cracked", by=head, at=make.NOW)
    Opening.objects.create(school=school, by=head, at=make.NOW, page="people:pupil-edit", pupil=pupil)
    make.care(horns[0], technician, "oil")
    part = Part.objects.create(school=school, name="string", mends=["string-broken"])
    PartUsed.objects.create(job=job, part=part, count=1, cost_each=Decimal("0.10"), at=make.NOW, by=technician)
    said = {"job": job, "at": make.NOW, "by": technician}
    NotDone.objects.create(fault="bell-dented", why=HARD_WORDS, **said)
    LabourPrice.objects.create(school=school, work="overhaul", minutes=900, price=Decimal("900.10"))
    WorkOrdered.objects.create(work="overhaul", minutes=900, price=Decimal("900.10"), **said)
    Sitting.objects.create(job=job, by=technician, began_at=make.NOW, ended_at=make.NOW, minutes=0)
    Invoice.objects.create(number="R-7", amount=Decimal("99.90"), file=ContentFile(make.pdf(), name="i.pdf"), **said)
    OtherQuote.objects.create(repairer="Mill Workshop", amount=Decimal("99.90"), words=HARD_WORDS, **said)
    RememberedColumns.objects.create(
        school=school, kind="horns", columns={"nr": "number", "bought": "acquired_on"}, day_first=False
    )
    for deed, about in (("people.pupil-changed", {"pupil": pupil}), ("horns.changed", {"horn": horns[0]})):
        told = [["notes", HARD_WORDS, "=1+1"]]
        record(deed=Deed(deed), school=school, by=head, at=make.NOW, told=told, **about)
    gone = make.pupil(school)
    record(deed=Deed.PUPIL_NEW, school=school, by=head, at=make.NOW, pupil=gone, guardian=adult, account=technician)
    gone.delete()
    seal(school=school.pk)
    return school


def out(school: School, folder: Path, name: str = "school.zip") -> Path:
    file = folder / name
    export_school(school=school, to=file, at=make.NOW)
    return file
