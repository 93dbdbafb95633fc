"""Signed sheets kept with their loans: how they come in, who sees them, where they go along, and their codes."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.urls import reverse

from fleet.desk.queries.personal import of_pupil
from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.record.models import Act, Deed
from fleet.reports.queries.loan_facts import of_loan
from fleet.signing.actions.signed_sheets import MOST_SIGNED_SHEETS, keep_signed, remove_signed
from fleet.signing.models import SheetOut, SignedSheet
from tests import make
from tests.ground.test_pdfs import upload
from tests.make import pdf
from tests.pages import folded
from tests.register.test_photographs import picture
from tests.signing.test_issue_pages import action_of, whole
from tests.signing.test_sheets import send

pytestmark = [pytest.mark.usefixtures("at_noon"), pytest.mark.either_engine]


def here(lending, page, key):
    return reverse(f"loans:{page}", args=(lending.school.slug, key))


def keep(lending, loan, name="x.pdf"):
    return keep_signed(loan=loan, file=ContentFile(b"a sheet", name=name), by=lending.teacher, at=make.NOW)


def test_a_photograph_taken_as_the_horn_is_handed_out_is_kept_with_the_loan_without_what_the_camera_hides(
    client, lending
):
    page = here(lending, "sheet-out", send(lending).pk)

    client.post(page, {"signed_on": make.TODAY, "sheet": upload(picture(comment=b"taken by somebody"), "a.jpg")})

    kept = SignedSheet.objects.get()
    assert (kept.loan, kept.by, kept.at, kept.kind) == (Loan.objects.get(), lending.teacher, make.NOW, "photograph")
    shown = client.get(here(lending, "signed-sheet", kept.pk))
    content = b"".join(shown.streaming_content)
    assert (shown["Content-Type"], content[:3], b"somebody" in content) == ("image/jpeg", b"\xff\xd8\xff", False)
    assert shown["Content-Disposition"].startswith("inline")


def test_a_pdf_is_kept_as_it_is_and_given_out_only_to_be_saved(client, lending):
    loan = lending.issue()
    added = client.post(here(lending, "signed-sheet-new", loan.pk), {"sheet": upload(pdf(2))})
    assert added.url == here(lending, "loan", loan.pk)

    kept = loan.signed_sheets.get()
    shown = client.get(here(lending, "signed-sheet", kept.pk))

    assert (b"".join(shown.streaming_content), kept.kind) == (pdf(2), "PDF")
    assert shown["Content-Type"] == "application/pdf"
    assert shown["Content-Disposition"] == f'attachment; filename="signed-{lending.horn}.pdf"'
    assert shown["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in shown["Content-Security-Policy"]
    assert "PDF of 14 September 2026" in folded(client.get(here(lending, "loan", loan.pk)))
    assert [act.deed for act in Act.objects.filter(deed__contains="sheet")] == [Deed.SHEET_KEPT]


@pytest.mark.parametrize("content", [b"<html>", b"%PDF-1.7 cut off", b""])
def test_what_is_neither_a_photograph_nor_a_pdf_is_refused_beside_the_field(client, lending, content):
    loan = lending.issue()

    answer = client.post(here(lending, "signed-sheet-new", loan.pk), {"sheet": upload(content)})

    assert (answer.status_code, len(answer.context["form"].errors["sheet"])) == (422, 1)
    assert not SignedSheet.objects.exists()


def test_a_horn_is_not_handed_out_when_its_sheet_cannot_be_kept(client, lending):
    page = here(lending, "sheet-out", send(lending).pk)

    assert client.post(page, {"signed_on": make.TODAY, "sheet": upload(b"<html>")}).status_code == 422
    assert not Loan.objects.exists()


def test_a_loan_keeps_six_and_none_before_somebody_signed(lending):
    loan = lending.issue()
    for _ in range(MOST_SIGNED_SHEETS):
        keep(lending, loan)
    with pytest.raises(Refused, match="at most 6 photographs or PDFs"):
        keep(lending, loan)

    unsigned = make.loan(make.horn(lending.school), lending.pupil, lending.teacher, from_list=True, signed_on=None)
    with pytest.raises(Refused, match="has not signed for") as no:
        keep(lending, unsigned)
    assert no.value.way_out.page == "loans:signed"


def test_one_that_was_taken_away_is_gone_with_its_file(client, lending, django_capture_on_commit_callbacks):
    loan = lending.issue()
    kept, other = keep(lending, loan), keep(lending, loan)
    page = here(lending, "signed-sheet-remove", kept.pk)
    assert "Remove this PDF?" in folded(client.get(page))

    with django_capture_on_commit_callbacks(execute=True):
        client.post(page)

    assert list(SignedSheet.objects.all()) == [other]
    assert [one.file.storage.exists(one.file.name) for one in (kept, other)] == [False, True]
    assert Act.objects.filter(deed=Deed.SHEET_REMOVED).count() == 1


def test_one_whose_file_is_lost_is_not_found(client, lending):
    kept = keep(lending, lending.issue())
    kept.file.storage.delete(kept.file.name)

    assert client.get(here(lending, "signed-sheet", kept.pk)).status_code == 404


def test_the_guardian_who_signed_sees_it_and_takes_it_along_and_the_other_one_does_not(lending, as_):
    loan = lending.issue()
    kept = keep(lending, loan)
    other = make.guardian(lending.school)
    lending.pupil.guardians.add(other)
    address, page = reverse("desk:family-signed-sheet", args=(kept.pk,)), f"/family/{loan.pk}/"

    for guardian, sees in ((lending.guardian, True), (other, False)):
        browser = as_(guardian.user)
        assert browser.get(address).status_code == (200 if sees else 404)
        assert ("The sheet you signed" in folded(browser.get(page))) == sees
        own = of_pupil(lending.pupil, [guardian])["signed_sheets"]
        assert [one["file"] for one in own] == ([kept.file.name] if sees else [])


def test_what_is_kept_of_a_pupil_goes_out_with_the_sheets_themselves(lending, as_):
    loan = lending.issue()
    kept, lost = keep(lending, loan), keep(lending, loan)
    lost.file.storage.delete(lost.file.name)
    head = make.staff(Role.HEAD, lending.school)

    answer = as_(head).get(reverse("desk:pupil-data", args=(lending.school.slug, lending.pupil.pk)))

    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        assert sorted(packed.namelist()) == ["ABOUT.txt", "data.json", kept.file.name]
        assert packed.read(kept.file.name) == b"a sheet"
        told = json.loads(packed.read("data.json"))["pupils"][0]["signed_sheets"]
    assert [one["file"] for one in told] == [kept.file.name, lost.file.name]


def test_a_sheet_kept_with_a_loan_is_taken_away_by_nobody_else_meanwhile(lending):
    kept = keep(lending, lending.issue())
    SignedSheet.objects.filter(pk=kept.pk).delete()

    with pytest.raises(Refused, match="taken away already"):
        remove_signed(sheet=kept, by=lending.teacher, at=make.NOW)


def test_the_code_of_a_sheet_opens_the_sheet_that_is_out_and_then_its_loan(client, lending, as_):
    one = send(lending)
    code = reverse("desk:sheet", args=(one.sheet_code.lower(),))
    technician, family = as_(make.staff(Role.TECHNICIAN, lending.school)), as_(lending.guardian.user)
    assert client.get(code).url == here(lending, "sheet-out", one.pk)
    assert technician.get(code).url == reverse("desk:horn", args=(lending.school.slug, lending.horn.pk))
    assert family.get(code).url == reverse("desk:family")

    loan = lending.issue()

    assert loan.sheet_code != one.sheet_code
    for known in (code, reverse("desk:sheet", args=(loan.sheet_code,))):
        assert {browser.get(known).url for browser in (client, technician)} == {here(lending, "loan", loan.pk)}
        assert family.get(known).url == reverse("desk:family-horn", args=(loan.pk,))


def test_the_code_of_a_sheet_tells_a_stranger_nothing(lending, elsewhere, as_):
    one, loan = send(lending), elsewhere.horn.loans.get()
    for stranger in (elsewhere.teacher, elsewhere.guardian.user):
        assert as_(stranger).get(reverse("desk:sheet", args=(one.sheet_code,))).status_code == 404
    for stranger in (lending.teacher, lending.guardian.user):
        assert as_(stranger).get(reverse("desk:sheet", args=(loan.sheet_code,))).status_code == 404
        assert as_(stranger).get(reverse("desk:sheet", args=("NOSUCH22",))).status_code == 404


def test_a_sheet_that_was_printed_carries_its_own_code_and_one_only_looked_at_that_of_the_horn(
    client, lending, monkeypatch
):
    drawn = []
    monkeypatch.setattr("fleet.reports.sheet.page.Sheet.code", lambda *said: drawn.append(said[-1].split("/", 3)[3]))
    page = reverse("loans:issue", args=(lending.school.slug,))
    address = page + action_of(client.get(page, whole(lending)))
    look = f"{reverse('reports:sheet-to-sign', args=(lending.school.slug,))}?{address.split('?')[1]}"

    client.get(look)
    client.get(client.post(address, {"do": "print"}).url)
    client.get(look.replace("spare+string", "spare+hat"))
    one = SheetOut.objects.get()
    hand_out = client.post(here(lending, "sheet-out", one.pk), {"signed_on": make.TODAY})
    client.get(reverse("reports:loan-sheet", args=(lending.school.slug, Loan.objects.get().pk)))

    horn = f"h/{lending.horn.label_code}/"
    assert hand_out.status_code == 302
    assert drawn == [horn, f"p/{one.sheet_code}/", horn, f"p/{Loan.objects.get().sheet_code}/"]


def test_the_sheets_of_a_class_carry_their_own_codes(client, lending, monkeypatch):
    drawn = []
    monkeypatch.setattr("fleet.reports.sheet.page.Sheet.code", lambda *said: drawn.append(said[-1].split("/", 3)[3]))
    guardian, horn = make.guardian(lending.school), make.horn(lending.school)
    pupil, _ = make.pupil(lending.school, guardian), make.check(horn, lending.teacher)
    page = reverse("loans:batch", args=(lending.school.slug,))
    asked = {"pair": [f"{lending.pupil.pk}.{lending.horn.pk}", f"{pupil.pk}.{horn.pk}"], "due_on": "2027-07-01"}
    query = client.get(page, asked).context["whole"]

    client.get(client.post(f"{page}?{query}", {"do": "print"}).url)

    assert set(drawn) == {f"p/{one.sheet_code}/" for one in SheetOut.objects.all()}
    assert len(drawn) == 2


def test_a_loan_without_a_code_of_its_own_shows_that_of_its_horn(lending):
    loan = lending.issue()
    loan.sheet_code = None
    assert of_loan(loan).sheet_code == ""


def test_a_sheet_printed_again_leaves_the_old_one_to_no_loan(lending):
    old = send(lending)
    new = send(lending, at=make.NOW + timedelta(minutes=5))

    loan = lending.issue()

    assert (SheetOut.objects.get(pk=old.pk).loan, SheetOut.objects.get(pk=new.pk).loan) == (None, loan)
