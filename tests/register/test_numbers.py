"""Register numbers: suggested, unique in the school, never used again."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, close_old_connections, connection, transaction

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.register.actions import horns, many
from fleet.register.models import FormerNumber, Horn, new_label_code
from fleet.register.models.horns import LABEL_LETTERS
from fleet.register.models.numbers import also, parts_of
from fleet.register.queries.numbers import next_free
from tests import make


@pytest.mark.parametrize(
    ("number", "parts"),
    [
        ("HN-0042", ("HN-", 42)),
        ("hn-0042", ("HN-", 42)),
        ("42", ("", 42)),
        ("Horn", ("HORN", 0)),
        ("A1B2", ("A1B", 2)),
        ("9" * 24, ("9" * 9, int("9" * 15))),
    ],
)
def test_a_number_falls_into_what_stands_before_and_its_digits(number, parts):
    assert parts_of(number) == parts


def test_a_label_code_is_eight_letters_that_nobody_mistakes_and_another_each_time():
    codes = [new_label_code() for _ in range(40)]

    assert len(set(codes)) == 40
    assert {len(code) for code in codes} == {8}
    assert set("".join(codes)) <= set(LABEL_LETTERS)


@pytest.mark.django_db
def test_a_label_code_that_another_horn_has_is_drawn_again(monkeypatch, now):
    school = make.school()
    there = make.horn(make.school(), label_code="TAKEN222")
    head = make.staff(Role.HEAD, school)
    drawn = iter(["TAKEN222", "ALSO2222", "ALSO2222", "TAKEN222", "NEXT2222", "THIRD222", "TAKEN222", "ONCE2222"])
    monkeypatch.setattr(many, "new_label_code", lambda: next(drawn))

    listed = many.register_many(
        school=school, particulars=[{"number": "L-1"}, {"number": "L-2"}, {"number": "L-3"}], by=head, at=now
    )
    one = horns.register_horn(school=school, particulars={"number": "F-1"}, by=head, at=now)

    for horn in (*listed, one):
        assert horn.label_code == Horn.objects.get(pk=horn.pk).label_code
    assert sorted(horn.label_code for horn in listed) == ["ALSO2222", "NEXT2222", "THIRD222"]
    assert one.label_code == "ONCE2222"
    there.refresh_from_db()
    assert there.label_code == "TAKEN222"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("prefix", "there", "suggested"),
    [
        ("HN-", [], "HN-0001"),
        ("HN-", ["HN-0001", "HN-0009"], "HN-0010"),
        ("HN-", ["hn-0007"], "HN-0008"),
        ("HN-", ["HN-9999"], "HN-10000"),
        ("HN-", ["HN-7"], "HN-8"),
        ("HN-", ["H1", "H9", "h40", "Old 7"], "h41"),
        ("HN-", ["H1", "H2", "HN-0003"], "HN-0004"),
        ("HN-", ["WH 08", "WH 09", "7", "8"], "HN-0001"),
        ("H", ["X1", "X2"], "H0001"),
        ("HN-", ["7", "19"], "20"),
        ("HN-", ["XX-0099", "HN-0003B", "HN-B-0050"], "HN-0001"),
        ("", ["0012"], "0013"),
        ("H2", ["H20009", "H20010"], "H20011"),
    ],
)
def test_the_suggestion_comes_after_the_highest_with_the_schools_prefix(prefix, there, suggested):
    make.horn(make.school(number_prefix=prefix), number=f"{prefix}8888")
    school = make.school(number_prefix=prefix)
    for number in there:
        make.horn(school, number=number)

    assert next_free(school) == suggested


@pytest.mark.django_db
def test_the_same_number_in_another_case_is_taken_and_another_schools_is_not():
    school = make.school()
    make.horn(school, number="HN-0001")
    make.horn(make.school(), number="HN-0001")

    with pytest.raises(IntegrityError, match="register_number_unique"), transaction.atomic():
        make.horn(school, number="hn-0001")


@pytest.mark.django_db
def test_a_horn_is_never_deleted():
    horn = make.horn(make.school())

    with pytest.raises(ValidationError):
        horn.delete()
    with pytest.raises(ValidationError):
        Horn.objects.all().delete()
    assert Horn.objects.filter(pk=horn.pk).exists()


@pytest.mark.django_db
def test_a_number_that_was_changed_stays_reserved(now):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    horn = make.horn(school, number="HN-0023")

    horns.amend_horn(horn=horn, changes={"number": "HN-0032"}, by=head, at=now)

    assert [former.number for former in FormerNumber.objects.filter(horn=horn)] == ["HN-0023"]
    with pytest.raises(Refused, match="This register number is taken"):
        horns.register_horn(school=school, particulars={"number": "hn-0023"}, by=head, at=now)
    assert next_free(school) == "HN-0033"


@pytest.mark.django_db
def test_a_horn_may_take_its_own_former_number_back(now):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    horn = make.horn(school, number="HN-0023")

    horns.amend_horn(horn=horn, changes={"number": "HN-0032"}, by=head, at=now)
    horns.amend_horn(horn=horn, changes={"number": "HN-0023"}, by=head, at=now)

    assert [former.number for former in FormerNumber.objects.filter(horn=horn)] == ["HN-0032"]


@pytest.mark.django_db
def test_the_highest_number_given_up_is_not_suggested_again(now):
    school = make.school()
    horn = make.horn(school, number="HN-0050")

    horns.amend_horn(horn=horn, changes={"number": "HN-0005"}, by=make.user(), at=now)

    assert next_free(school) == "HN-0051"


@pytest.mark.django_db
def test_a_suggestion_taken_meanwhile_becomes_the_next_and_a_typed_number_is_refused(now):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    suggested = next_free(school)
    make.horn(school, number=suggested)

    horn = horns.register_horn(school=school, particulars={"number": suggested}, suggested=suggested, by=head, at=now)

    assert (suggested, horn.number) == ("HN-0001", "HN-0002")
    with pytest.raises(Refused, match="This register number is taken"):
        horns.register_horn(
            school=school, particulars={"number": "HN-0002"}, suggested="HN-0003", by=make.user(), at=now
        )


@pytest.mark.django_db
def test_a_button_tapped_twice_registers_one_horn_and_two_horns_alike_are_two(now):
    school = make.school()
    head, other = make.staff(Role.HEAD, school), make.staff(Role.TEACHER, school)
    words = {"number": "HN-0001", "maker": "Alike"}

    def register(by, after, **more):
        horn = horns.register_horn(
            school=school, particulars={**words, **more}, suggested="HN-0001", by=by, at=now + timedelta(seconds=after)
        )
        return horn.number

    assert register(head, 0) == register(head, 2) == "HN-0001"
    assert register(head, 3, serial_number="2") == "HN-0002"
    assert register(other, 4) == "HN-0003"
    assert register(head, 60) == "HN-0004"


@pytest.mark.django_db(transaction=True)
def test_people_registering_at_once_get_a_number_each(now):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    suggested = next_free(school)
    numbers, trouble = [], []
    start = threading.Barrier(4)

    def register() -> None:
        try:
            start.wait()
            for place in range(3):
                particulars = {"number": suggested, "serial_number": f"{threading.get_ident()}-{place}"}
                horn = horns.register_horn(school=school, particulars=particulars, suggested=suggested, by=head, at=now)
                numbers.append(horn.number)
        except Exception as error:
            trouble.append(error)
        finally:
            connection.close()
            close_old_connections()

    people = [threading.Thread(target=register) for _ in range(4)]
    for person in people:
        person.start()
    for person in people:
        person.join()

    assert trouble == []
    assert sorted(numbers) == [f"HN-{place:04d}" for place in range(1, 13)]


@pytest.mark.parametrize(
    ("number", "typed"),
    [
        ("HN-0005", ("HN5", "HN-5")),
        ("W/H 07", ("W/H7", "W/H 7")),
        ("HN-0", ("", "")),
        ("0005", ("", "")),
        ("HN-A", ("", "")),
    ],
)
def test_a_number_is_typed_without_nought_and_dash_too(number, typed):
    assert also(number) == typed
