"""The register at its edges: nothing changed, nothing asked, a sheet of labels of one's own for the first time."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction

from fleet.ground import paging
from fleet.ground.access import Role
from fleet.record.models import Act
from fleet.register.actions.horns import amend_horn
from fleet.register.actions.labels import keep_label_sheet
from fleet.register.actions.photographs import add_photograph
from fleet.register.models import LabelSheet
from fleet.register.models.numbers import parts_of
from fleet.register.queries import listing
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.kept import told_of
from fleet.register.queries.listing import page_of
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def head():
    return make.staff(Role.HEAD, make.school())


def test_what_is_the_same_already_is_no_change_and_no_act(head):
    horn = make.horn(head.posts.get().school, maker="Alder")

    assert amend_horn(horn=horn, changes={"maker": "Alder"}, by=head, at=make.NOW) == []
    assert not Act.objects.exists()
    assert amend_horn(horn=horn, changes={"maker": "Birch"}, by=head, at=make.NOW) == ["maker"]


def test_of_no_horns_nothing_is_told_and_nothing_asked(django_assert_num_queries):
    with django_assert_num_queries(0):
        assert told_of([]) == {}


def test_a_schools_sheet_of_labels_is_made_once_and_then_changed(head):
    school = head.posts.get().school
    for across in (3, 4):
        keep_label_sheet(school=school, sizes={"across": across}, by=head, at=make.NOW)

    assert LabelSheet.objects.get().across == 4
    # The usual sheet has three across, so the first changed nothing.
    assert Act.objects.count() in {1, 2}


@pytest.mark.parametrize(
    ("number", "parts"),
    [("hn-0042", ("HN-", 42)), ("HN", ("HN", 0)), ("", ("", 0)), ("A" + "9" * 16, ("A9", 999_999_999_999_999))],
)
def test_a_number_is_sorted_by_what_stands_before_its_figures_and_then_by_them(number, parts):
    assert parts_of(number) == parts


def test_a_photograph_that_could_not_be_recorded_leaves_no_file(head):
    horn = make.horn(head.posts.get().school)
    with pytest.raises(IntegrityError), transaction.atomic():
        add_photograph(horn=horn, image=ContentFile(b"a picture", "a.jpg"), width=None, height=1, by=head, at=make.NOW)
    assert not [path for path in Path(default_storage.path("")).rglob("*") if path.is_file()]


@pytest.mark.parametrize("words", ["", "alder"])
def test_a_list_that_is_longer_than_is_counted_says_that_there_are_more(head, monkeypatch, words):
    school = head.posts.get().school
    horns = [make.horn(school, maker="Alder") for _ in range(3)]
    for counted, total, more in ((2, 2, True), (3, 3, False)):
        for module in (paging, listing):
            monkeypatch.setattr(module, "COUNTED_TO", counted)
        page = page_of(school, HornFilters({"q": words}, school=school), sort="number", number=1)
        assert (page.total, page.more, list(page.rows)) == (total, more, horns)
