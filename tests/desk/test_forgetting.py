import io
import json
import zipfile
from datetime import timedelta
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db.models import CharField, TextField
from django.urls import reverse

from fleet.counting.actions.counts import begin, end, sign
from fleet.counting.actions.finds import keep_find, settle_find
from fleet.counting.actions.sightings import see
from fleet.desk.actions.forgetting import forget, to_forget
from fleet.desk.actions.scrubbing import WORDS, names_in
from fleet.exchange.models import Batch, Import
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.actions import charges, returning
from fleet.lending.models import Loan, PastLoan
from fleet.people.models import Guardian, Opening, Pupil, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed
from fleet.register.models import Horn, Photograph, StandChange, Standing
from fleet.signing.models import OnlineSignature, SheetOut, SignedSheet
from fleet.workshop.models import CheckPhotograph, JobStep
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.both_engines

DAY = timedelta(days=1)
LONG_AGO = make.TODAY - 900 * DAY


@pytest.fixture
def family(db):
    """A pupil who left long ago, with one of everything that may hold a name, and a sibling's other parent."""

    class Family:
        school = make.school()
        head = make.staff(Role.HEAD, school, name="Ines Head")
        mother = make.guardian(school, name="Maria Quillfeather", email="maria.q@example.org")
        father = make.guardian(school, name="Otto Quillfeather")
        pupil = make.pupil(school, mother, name="Adalbert Quillfeather", pupil_id="P-77", group="7B", left_on=LONG_AGO)
        sibling = make.pupil(school, father, name="Berta")
        horn = make.horn(school)

    Family.loan = make.loan(
        Family.horn,
        Family.pupil,
        Family.head,
        issued_on=LONG_AGO - 300 * DAY,
        due_on=LONG_AGO,
        returned_on=LONG_AGO,
        return_notes="Adalbert was sorry",
    )
    asked = make.signature(Family.horn, Family.pupil, Family.head, shown="For Adalbert Quillfeather")
    make.sheet(Family.horn, Family.pupil, Family.head, accessories=["case", "the bag of Adalbert"])
    make.signed_sheet(Family.loan, Family.head)
    make.letter(asked, state="sent", address="maria.q@example.org", words="Please sign, Maria Quillfeather")
    Family.pupil.guardians.add(Family.father)
    make.letter(Family.loan, state="sent", address="maria.q@example.org", words="Dear Maria Quillfeather")
    Family.mother.address_changes.create(before="quill.old@example.org", at=make.NOW, digest="x", objected_at=make.NOW)
    make.ask(Family.loan, Family.mother.user, words="For Adalbert's concert", answered_at=make.NOW, answer="Yes Maria")
    make.report(Family.horn, Family.mother.user, "Adalbert dropped it; the bell is dented", pupil=Family.pupil)
    write_of(Family, "seen by Adalbert and Maria Quillfeather")
    count = begin(school=Family.school, places=[], by=Family.head, at=make.NOW)
    how = {"count": count, "place": None, "by": Family.head, "at": make.NOW}
    see(horn=Family.horn, note="Adalbert's old mouthpiece in the case", key="a-tap-of-the-head", **how)
    keep_find(words="case marked Maria Quillfeather", key="a-find-of-the-head", **how)
    end(count=count, by=Family.head, at=make.NOW)
    settle_find(find=count.finds.get(), resolution="not-ours", reason="Maria's own", by=Family.head, at=make.NOW)
    sign(count=count, by=make.staff(Role.HEAD, Family.school), at=make.NOW)
    Family.loan.check_at_issue.notes = "shown to Maria Quillfeather"
    Family.loan.check_at_issue.save()
    return Family


def write_of(family, words):
    """The family's names in whatever staff write of a horn in their own words."""
    horn, head, loan = family.horn, family.head, family.loan
    Horn.objects.filter(pk=horn.pk).update(notes=words)
    loan.check_at_issue.notes = words
    loan.check_at_issue.save()
    make.finding(loan.check_at_issue, note=words)
    CheckPhotograph.objects.create(check_made=loan.check_at_issue, image="c.jpg", width=1, height=1, caption=words)
    Photograph.objects.create(horn=horn, image="h.jpg", width=1, height=1, caption=words, by=head, at=make.NOW)
    job = make.job(horn, head, state="done", notes=words, parts=words)
    JobStep.objects.create(job=job, state="done", words=words, by=head, at=make.NOW)
    StandChange.objects.create(horn=horn, before="F", after="Bb", reason=words, by=head, at=make.NOW)
    Standing.objects.create(horn=horn, kind="found", reason=words, by=head, at=make.NOW, on=make.TODAY)
    PastLoan.objects.create(
        horn=horn, pupil=family.pupil, issued_on=LONG_AGO - 900 * DAY, returned_on=LONG_AGO - 800 * DAY, notes=words
    )
    rows = [{"line": 2, "cells": ["Adalbert Quillfeather", "P-77", "quill.old@example.org"], "verdict": "new"}]
    brought_in = Import.objects.create(
        school=family.school,
        kind="pupils",
        name="pupils.csv",
        by=head,
        at=make.NOW,
        top=[[2, ["Adalbert Quillfeather"]]],
    )
    Batch.objects.create(batch_of=brought_in, place=0, rows=rows, seen={"p-77": 2})


def everything() -> str:
    """Every value of every row of our own tables, as one text."""
    said = []
    for model in apps.get_models():
        if model.__module__.startswith(("fleet.", "allauth.")):
            said += [str(value) for row in model.objects.values_list() for value in row]
    return "\n".join(said)


def test_no_name_or_address_is_left_anywhere_and_the_horn_keeps_its_history(family):
    before = everything()
    for name in ("Adalbert", "Maria", "maria.q@example.org", "quill.old@example.org", "P-77"):
        assert name in before

    forget(pupil=family.pupil, by=family.head, at=make.NOW)

    after = everything()
    for name in ("Adalbert", "Maria", "maria.q@example.org", "quill.old@example.org", "P-77"):
        assert name not in after, name
    assert not OnlineSignature.objects.waiting().exists()
    assert not SheetOut.objects.not_put_away().exists()
    assert not SignedSheet.objects.exists()
    loan = Loan.objects.get(pk=family.loan.pk)
    assert str(loan.pupil) == f"former pupil {family.pupil.pk}"
    assert (loan.issued_on, loan.returned_on, loan.check_at_issue.grade) == (LONG_AGO - 300 * DAY, LONG_AGO, 1)
    assert family.horn.fault_reports.get().words == "(removed) dropped it; the bell is dented"


def test_the_file_of_a_signed_sheet_goes_with_the_pupil(family, django_capture_on_commit_callbacks):
    kept = SignedSheet.objects.get().file
    others = make.signed_sheet(make.loan(make.horn(family.school), family.sibling, family.head), family.head).file

    with django_capture_on_commit_callbacks(execute=True):
        forget(pupil=family.pupil, by=family.head, at=make.NOW)

    assert [file.storage.exists(file.name) for file in (kept, others)] == [False, True]


def test_who_signed_with_an_address_they_have_no_more_is_forgotten_and_who_had_a_post_is_not(family):
    old = make.user(email="maria.once@example.org", name="Maria Once")
    left = make.user(email="left@example.org", name="Lea Left")
    record(deed=Deed.POST_GIVEN, school=family.school, by=None, at=make.NOW, account=left)
    OnlineSignature.objects.filter(pupil=family.pupil).update(signed_by=old)
    make.report(family.horn, old, pupil=family.pupil)
    make.report(family.horn, left, pupil=family.pupil)

    forget(pupil=family.pupil, by=family.head, at=make.NOW)

    after = everything()
    assert "Maria Once" not in after
    assert "maria.once@example.org" not in after
    assert not User.objects.get(pk=old.pk).is_active
    assert User.objects.get(pk=left.pk).name == "Lea Left"


def test_every_column_that_takes_words_is_looked_through_or_named_as_one_that_holds_none_of_a_family():
    """A new column for words belongs to one of the two: this test fails until somebody decides."""
    known = {(model, field) for model, _, fields in WORDS for field in fields}
    for model in apps.get_models():
        if not model.__module__.startswith(
            ("fleet.register", "fleet.workshop", "fleet.counting", "fleet.lending", "fleet.signing", "fleet.letters")
        ):
            continue
        for field in model._meta.concrete_fields:
            takes_words = isinstance(field, CharField | TextField) and not field.choices and field.editable
            if takes_words and (field.max_length or 1000) >= 80 and (model, field.name) not in known:
                assert f"{model._meta.label}.{field.name}" in NO_WORDS_OF_A_FAMILY


# Facts of the instrument, the school's own texts, or taken out by `forget` itself.
NO_WORDS_OF_A_FAMILY = {
    "counting.Count.place_words",
    "counting.Count.title",
    "counting.Find.place_words",
    "counting.Find.reason",
    "counting.Find.words",
    "counting.Line.kind",
    "counting.Line.place_words",
    "counting.Sighting.place_words",
    "loans.Agreement.words",
    "loans.Charge.what",
    "loans.FamilyAsk.answer",
    "loans.FamilyAsk.words",
    "loans.LendingRules.after_subject",
    "loans.LendingRules.after_words",
    "loans.LendingRules.before_subject",
    "loans.LendingRules.before_words",
    "loans.LendingRules.recall_subject",
    "loans.LendingRules.recall_words",
    "loans.LendingRules.sign_subject",
    "loans.LendingRules.sign_words",
    "loans.Letter.address",
    "loans.Letter.subject",
    "loans.Letter.trouble",
    "loans.Letter.words",
    "loans.Loan.lost_words",
    "loans.Loan.return_notes",
    "loans.LoanPeriod.reason",
    "loans.ReturnNote.words",
    "loans.OnlineSignature.shown",
    "loans.OnlineSignature.typed_name",
    "register.Horn.described_as",
    "register.Horn.maker",
    "register.Horn.model",
    "workshop.Invoice.number",
    "workshop.OtherQuote.repairer",
    "workshop.Part.name",
    "workshop.Part.order_number",
    "workshop.Part.shelf",
    "workshop.Part.supplier",
    "workshop.RepairJob.order_to",
    "workshop.RepairJob.repairer",
}


def test_a_namesake_and_the_other_rows_of_a_list_keep_theirs(family):
    other = make.horn(family.school, notes="Adalbert Quillfeather of the town band gave it")
    batch = Batch.objects.get()
    batch.rows = [*batch.rows, {"line": 3, "cells": ["Berta Quillfeather", "P-771"], "verdict": "new"}]
    batch.save()

    forget(pupil=family.pupil, by=family.head, at=make.NOW)

    other.refresh_from_db()
    assert other.notes == "Adalbert Quillfeather of the town band gave it"
    assert Batch.objects.get().rows[1]["cells"] == ["Berta Quillfeather", "P-771"]
    family.horn.refresh_from_db()
    assert family.horn.notes == "seen by (removed) and (removed)"


def test_what_only_a_person_can_look_through_is_said(family, as_):
    head, address = as_(family.head), reverse("desk:pupil-forget", args=(family.school.slug, family.pupil.pk))
    assert "2 photographs of their horns" in folded(head.get(address))


def test_a_guardian_who_answers_for_another_pupil_stays(family):
    forget(pupil=family.pupil, by=family.head, at=make.NOW)
    assert Guardian.objects.get(pk=family.father.pk).name == "Otto Quillfeather"
    assert list(family.sibling.guardians.all()) == [family.father]


def test_the_account_of_the_forgotten_is_closed_and_that_of_a_teacher_is_not(family, as_):
    client = as_(family.mother.user)
    forget(pupil=family.pupil, by=family.head, at=make.NOW)
    assert User.objects.get(pk=family.mother.user.pk).is_active is False
    assert client.get(reverse("desk:family")).status_code == 302

    teacher = make.staff(Role.TEACHER, family.school, name="Tea Cher")
    parent = Guardian.objects.create(school=family.school, name="Tea Cher", email=teacher.email, user=teacher)
    forget(pupil=make.pupil(family.school, parent), by=family.head, at=make.NOW)
    teacher.refresh_from_db()
    assert (teacher.is_active, teacher.name) == (True, "Tea Cher")


def test_nobody_is_forgotten_while_a_horn_is_out_or_a_charge_is_due(family):
    out = make.loan(make.horn(family.school), family.pupil, family.head)
    with pytest.raises(Refused, match=f"still has {out.horn}"):
        forget(pupil=family.pupil, by=family.head, at=make.NOW)
    returning.lose(loan=out, words="Gone.", by=family.head, at=make.NOW)
    charge = make.charge(out, family.head)
    with pytest.raises(Refused, match="still due"):
        forget(pupil=family.pupil, by=family.head, at=make.NOW)
    charges.settle(charge=charge, state="remitted", by=family.head, at=make.NOW)
    forget(pupil=family.pupil, by=family.head, at=make.NOW)
    assert Horn.objects.get(pk=out.horn_id).standings.get().reason == "Gone."


def test_those_are_due_who_left_and_gave_back_longer_ago_than_names_are_kept(family):
    def pupil(**fields):
        return make.pupil(family.school, **fields)

    pupil()
    pupil(left_on=make.TODAY - 100 * DAY)
    late = pupil(left_on=LONG_AGO)
    make.loan(make.horn(family.school), late, family.head, returned_on=make.TODAY)
    still = pupil(left_on=LONG_AGO)
    make.loan(make.horn(family.school), still, family.head, issued_on=LONG_AGO, due_on=LONG_AGO)
    never = pupil(left_on=LONG_AGO)
    assert to_forget(family.school, make.TODAY) == [family.pupil, never]


def test_the_command_says_first_and_does_it_only_when_told(family, monkeypatch):
    monkeypatch.setattr("fleet.desk.management.commands.forget.timezone.now", lambda: make.NOW)
    call_command("forget", stdout=(said := StringIO()))
    assert f"pupil {family.pupil.pk}, left {LONG_AGO}, 1 loans, 1 guardians" in said.getvalue()
    assert "1 pupils would be forgotten" in said.getvalue()
    assert Pupil.objects.get(pk=family.pupil.pk).name == "Adalbert Quillfeather"

    call_command("forget", "--do", stdout=(did := StringIO()))
    call_command("forget", "--do", stdout=(again := StringIO()))
    assert "1 pupils forgotten." in did.getvalue()
    assert again.getvalue() == "0 pupils forgotten.\n"
    assert "Quillfeather" not in did.getvalue()


def test_the_command_also_removes_lists_that_nobody_needs_any_more(family, monkeypatch):
    monkeypatch.setattr("fleet.desk.management.commands.forget.timezone.now", lambda: make.NOW)

    def list_of(state: str, days: int) -> Import:
        then = make.NOW - days * DAY
        made = Import.objects.create(
            school=family.school, kind="horns", name="l.csv", by=family.head, at=then, state=state, written_at=then
        )
        Batch.objects.create(batch_of=made, place=0, written=state == "written")
        return made

    idle, fresh, old, undoable = (
        list_of("checked", 8), list_of("checked", 6), list_of("written", 61), list_of("written", 59),
    )  # fmt: skip
    lists = Import.objects.filter(pk__in=[idle.pk, fresh.pk, old.pk, undoable.pk])
    batches = Batch.objects.filter(batch_of__in=[idle.pk, fresh.pk, old.pk, undoable.pk])

    call_command("forget", stdout=(said := StringIO()))
    words = "1 lists brought in and never written, and the rows of 1 written ones, would be removed"
    assert words in said.getvalue()
    assert batches.count() == 4

    call_command("forget", "--do", stdout=(did := StringIO()))
    assert "the rows of 1 written ones, removed" in did.getvalue()
    assert set(lists.values_list("pk", flat=True)) == {fresh.pk, old.pk, undoable.pk}
    assert set(batches.values_list("batch_of", flat=True)) == {fresh.pk, undoable.pk}


def test_a_head_hands_a_pupils_data_out_and_it_stands_in_the_log(family, as_):
    head = as_(family.head)
    answer = head.get(reverse("desk:pupil-data", args=(family.school.slug, family.pupil.pk)))
    assert answer["Content-Disposition"] == f'attachment; filename="pupil-{family.pupil.pk}.zip"'
    with zipfile.ZipFile(io.BytesIO(answer.content)) as file:
        (pupil,) = json.loads(file.read("data.json"))["pupils"]
    assert (pupil["name"], pupil["guardians"][0]["name"]) == ("Adalbert Quillfeather", "Maria Quillfeather")
    assert pupil["loans"][0]["returned_on"] == str(LONG_AGO)

    log = head.get(reverse("people:openings", args=(family.school.slug,))).content.decode()
    assert "everything, as a file" in log
    assert Opening.objects.get().by == family.head


def test_a_head_forgets_a_pupil_on_request_after_a_tick(family, as_):
    head, address = as_(family.head), reverse("desk:pupil-forget", args=(family.school.slug, family.pupil.pk))
    assert "Maria Quillfeather" in folded(head.get(address))
    assert head.post(address).status_code == 422
    assert head.post(address, {"sure": "yes"}).status_code == 302
    assert "former pupil" in Pupil.objects.get(pk=family.pupil.pk).name


def test_the_pages_of_pupils_and_guardians_write_who_opened_them(family, as_):
    teacher = make.staff(Role.TEACHER, family.school)
    client, slug = as_(teacher), family.school.slug
    client.get(reverse("people:pupil-edit", args=(slug, family.pupil.pk)))
    client.get(reverse("people:guardian-edit", args=(slug, family.mother.pk)))
    client.get(reverse("loans:of-pupil", args=(slug, family.pupil.pk)))
    client.get(reverse("loans:loan", args=(slug, family.loan.pk)))
    client.get(reverse("people:pupils", args=(slug,)))
    client.get(reverse("exchange:pupils-out", args=(slug,)), {"as": "csv"})
    assert [(one.by, one.page, one.pupil, one.guardian) for one in Opening.objects.order_by("pk")] == [
        (teacher, "people:pupil-edit", family.pupil, None),
        (teacher, "people:guardian-edit", None, family.mother),
        (teacher, "loans:of-pupil", family.pupil, None),
        (teacher, "loans:loan", family.pupil, None),
        (teacher, "exchange:pupils-out", None, None),
    ]
    log = as_(family.head).get(reverse("people:openings", args=(slug,))).content.decode()
    assert "the list of pupils, as a file" in log


def test_prints_and_lists_that_name_people_write_who_took_them(family, as_):
    client, slug = as_(family.head), family.school.slug
    prints = ("class-list", "overdue-list", "overdue-letters", "loan-sheets")
    lists = ("horns-out", "past-loans-out", "charges-out", "loans-out")
    for name in [f"reports:{one}" for one in prints] + [f"exchange:{one}" for one in lists]:
        Opening.objects.all().delete()
        assert client.get(reverse(name, args=(slug,)), {"group": family.pupil.group}).status_code == 200
        assert [(one.by, one.page, one.pupil) for one in Opening.objects.all()] == [(family.head, name, None)]
    client.get(reverse("reports:loan-sheet", args=(slug, family.loan.pk)))
    log = client.get(reverse("people:openings", args=(slug,)), {"pupil": family.pupil.pk}).content.decode()
    assert "a loan sheet, printed" in log
    assert family.pupil.name in log


def test_a_pupils_history_takes_as_many_queries_for_three_loans_as_for_one(family, as_, django_assert_num_queries):
    client = as_(family.head)
    for name, key in (("of-horn", family.horn.pk), ("of-pupil", family.pupil.pk)):
        address = reverse(f"loans:{name}", args=(family.school.slug, key))
        asked = 9 if name == "of-horn" else 10
        for _ in range(2):
            with django_assert_num_queries(asked):
                client.get(address)
            make.loan(family.horn, family.pupil, family.head, returned_on=make.TODAY)


def test_a_loan_without_words_of_its_own_is_not_said_to_have_had_some(family):
    quiet = make.loan(make.horn(family.school), family.pupil, family.head, issued_on=LONG_AGO, returned_on=LONG_AGO)

    forget(pupil=family.pupil, by=family.head, at=make.NOW)

    quiet.refresh_from_db()
    assert (quiet.return_notes, quiet.lost_words) == ("", "")


def test_the_command_keeps_to_the_school_it_is_told(family, monkeypatch):
    monkeypatch.setattr("fleet.desk.management.commands.forget.timezone.now", lambda: make.NOW)
    there = make.pupil(make.school(slug="elsewhere"), left_on=LONG_AGO)
    call_command("forget", "--school", "elsewhere", stdout=(said := StringIO()))
    assert f"pupil {there.pk}, left" in said.getvalue()
    assert "1 pupils would be forgotten" in said.getvalue()
    with pytest.raises(CommandError, match="There is no school 'nowhere'"):
        call_command("forget", "--school", "nowhere")


@pytest.mark.parametrize(("names", "left"), [(["Al"], "Al and alma ran."), (["Alma Al"], "Al and (removed) ran.")])
def test_names_of_two_letters_are_left_in_a_text_and_longer_ones_go(names, left):
    assert names_in(names)("Al and alma ran.") == left
