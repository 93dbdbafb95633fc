"""Every page a family meets, in a language made up for the test: what it does not turn into signs nobody has marked."""

from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Callable
from functools import cache
from html.parser import HTMLParser
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from babel.messages import Catalog
from django.core import mail
from django.core.files.base import ContentFile
from django.core.signals import setting_changed
from django.dispatch import receiver
from django.template.autoreload import reset_loaders
from django.template.loader import get_template
from django.utils.dates import MONTHS, MONTHS_3, WEEKDAYS
from django.utils.translation import override

from fleet.ground.access import Role
from fleet.lending.models import Agreement
from fleet.lending.queries.agreements import FIRST_WORDS
from fleet.letters.models.rules import TO_SIGN
from fleet.letters.queries.composing import composed
from fleet.people.models import Guardian
from fleet.people.queries.objections import digest_of
from fleet.signing.actions.putting_before import put_before
from fleet.workshop.forms.faults import at_rest
from fleet.workshop.models.faults import catalogue as faults
from tests import make
from tests.gates import catalogues

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]

# What is the same in every language; names in the rows are in Greek letters.
SAME = {"Horn", "Cupboard", "PDF", "HN", "EUR", "English", "Deutsch", "http", "testserver", "family", "en", "gb"}
# What a drawing has no room for is cut, the bracket with it.
INNERMOST = re.compile(r"⟦[^⟦⟧]*[⟧…]")
KEPT = re.compile(r"%\(\w+\)[sd]|\{\w+\}|</?\w+>")


@receiver(setting_changed)
def forget_words(*, setting: str, **_told: Any) -> None:
    """What is kept by language is in the German of other tests, and in the made-up one after these."""
    if setting == "LOCALE_PATHS":
        for kept in kept_by_language():
            kept.cache_clear()
        # Pieces of pages are kept with their templates.
        reset_loaders()


def kept_by_language() -> list[Any]:
    """The functions of ours that keep their answer and are told the language for it."""
    # Not from the collector: what it was told to pass over, as the tests' modules are, it names no more.
    ours = [module for name, module in sys.modules.items() if name.startswith(("fleet.", "identify."))]
    kept = [one for module in ours for one in vars(module).values() if type(one) is type(at_rest)]
    return [one for one in kept if {"language", "_language"} & inspect.signature(one).parameters.keys()]


def made_up(text: str) -> str:
    """The text in brackets and 40 per cent longer; its placeholders stay, and the line it ends in."""
    body = text.rstrip("\n")
    return f"⟦{body}{'·' * (len(KEPT.sub('', body)) * 2 // 5 + 1)}⟧{text[len(body) :]}"


@cache
def in_made_up(*marked: Callable[[], Catalog]) -> bytes:
    """A compiled catalogue, made once: to gather what is marked all modules and templates are read."""
    catalogue = Catalog(locale="de")
    for message in chain(*(gather() for gather in marked)):
        if message.id:
            texts = catalogues.texts_of(message)
            catalogue.add(message.id, made_up(texts[0]) if len(texts) == 1 else tuple(map(made_up, texts)))
    for name in (*MONTHS.values(), *MONTHS_3.values(), *WEEKDAYS.values()):
        catalogue.add(str(name), made_up(str(name)))
    return catalogues.compiled(catalogue)


def speak_made_up(folder: Path, settings: Any, *marked: Callable[[], Catalog]) -> None:
    """From now on German is the language made up, of what these gather, or of all that families may read."""
    path = folder / "de" / "LC_MESSAGES"
    path.mkdir(parents=True)
    (path / "django.mo").write_bytes(in_made_up(*(marked or [catalogues.marked])))
    settings.LOCALE_PATHS = [folder]


class Words(HTMLParser):
    """What a reader or a screen reader is told by a page."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in {"script", "style"}
        self.said += [value or "" for name, value in attrs if name in {"alt", "title", "aria-label", "placeholder"}]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in {"script", "style"}

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.said.append(data)


def unmarked(text: str) -> list[str]:
    """Words in Latin letters outside the brackets."""
    text = re.sub(r"[\w.]+@[\w.]*\w", "", text)
    while (shorter := INNERMOST.sub("", text)) != text:
        text = shorter
    return [word for word in re.findall(r"[A-Za-z]{2,}", text) if word not in SAME]


def told(page: Any) -> list[str]:
    return unmarked(said(page))


def said(page: Any) -> str:
    reader = Words()
    reader.feed(page if isinstance(page, str) else page.content.decode())
    return "\n".join(reader.said)


def commas(text: str) -> list[str]:
    """Where words and sentences are joined outside the brackets by what Arabic writes otherwise."""
    while (shorter := INNERMOST.sub("·", text)) != text:
        text = shorter
    return re.findall(r"[·Α-ωά-ώ]\s*[,;]\s|[,;]\s+[·Α-ωά-ώ]", text)


@pytest.fixture
def made_up_language(tmp_path: Path, settings: Any) -> None:
    speak_made_up(tmp_path / "locale", settings)


def everything_of_a_family(language: str) -> dict[str, Any]:
    """A family with something of everything that its pages can tell."""
    school = make.school(name="Σχολή", contact="Ωδείο", language=language, local_rules="Κανόνες")
    head = make.staff(Role.HEAD, school, name="Έλλη")
    guardian = make.guardian(school, name="Μαρία", email="1@2.example", language=language)
    other = make.guardian(school, name="Νίκος", email="3@4.example", language=language)

    def horn(**fields: Any) -> Any:
        return make.horn(school, number=f"HN-{make.Guardian.objects.count()}{school.horns.count()}", **fields)

    def child(name: str = "Άντα", **fields: Any) -> Any:
        return make.pupil(school, guardian, other, name=name, year="5", **fields)

    def alone() -> Any:
        return make.pupil(school, guardian, name="Άντα")

    reported = make.loan(horn(build="double-full", stands_in="Bb"), child(), head, accessories=("θήκη", "σουρντίνα"))
    job = make.job(reported.horn, head, state="bench")
    for who, words in ((guardian, "α"), (other, "β")):
        make.report(reported.horn, who.user, pupil=reported.pupil, words=words)
    make.report(reported.horn, who.user, pupil=reported.pupil, words="γ", job=job, answered_at=make.NOW)
    make.ask(reported, guardian.user, kind="renew")
    make.ask(reported, other.user, kind="lost", answer="δ", answered_at=make.NOW, answered_by=head)
    make.charge(reported, head, what="ενοίκιο")
    gone = make.loan(horn(build="mellophone-f"), child(left_on=make.TODAY), head, accessories=())
    lost = make.loan(
        horn(not_found_on=make.TODAY), child(), head, returned_on=make.TODAY, lost_words="ε", returned_to=head
    )
    back = make.loan(horn(), child(), head, returned_on=make.TODAY, returned_to=head)
    Agreement.objects.filter(school=school).update(words=FIRST_WORDS)
    waits = horn(build="single-bb")
    check = make.check(waits, head, grade=2)
    make.finding(check, "rotor-leaking", places=["1", "3"])
    signature = put_before(
        horn=waits, pupil=child(), guardian=guardian, agreement_version=1, check_seen=check.pk,
        due_on=reported.due_on, accessories=[], by=head, at=make.NOW,
    )  # fmt: skip
    return {
        "letter": make.letter(reported, subject="θ", words="ι"),
        "guardian": guardian,
        "loans": [reported, gone, lost, back],
        "signature": signature,
        "signed": make.signature(horn(), alone(), head, shown="ζ", signed_at=make.NOW, typed_name="Μαρία"),
        "withdrawn": make.signature(horn(), alone(), head, shown="η", withdrawn_at=make.NOW),
        "own": make.agreement(school, own=ContentFile(make.pdf(), name="own.pdf"), own_pages=2),
    }


def pages_of(family: dict[str, Any]) -> list[str]:
    """Every page that is there for this family, and one that is not."""
    addresses = ["/family/", "/account/second-factor/", "/account/password/set/", "/account/sign-out/", "/family/0/"]
    addresses += [f"/family/{loan.pk}/" for loan in family["loans"]]
    addresses += [f"/family/{family['loans'][0].pk}/{page}/" for page in ("longer", "lost", "chart")]
    addresses += ["/family/papers/", "/family/papers/calendar/"]
    addresses += ["/family/guide/", "/family/guide/?q=1", "/family/guide/double-full/"]
    addresses += [f"/family/{family['loans'][2].pk}/chart/", f"/family/letters/{family['letter'].pk}/"]
    return addresses + [f"/family/sign/{family[name].pk}/" for name in ("signature", "signed", "withdrawn")]


@pytest.fixture
def family(made_up_language: None) -> dict[str, Any]:
    return everything_of_a_family("de")


def test_an_unmarked_word_is_found():
    assert unmarked(f"{made_up('Sign in')} HN-3 Αda a@b.example") == ["da"]
    assert unmarked("⟦a ⟦b c⟧ d⟧ Sign in") == ["Sign", "in"]
    assert commas("⟦a, b⟧, HN-3, Μαρία") == ["·, ", ", Μ"]
    assert commas("⟦a⟧⟦, ··⟧Μαρία (T1, 3)") == []
    assert made_up("by %(day)s\n") == "⟦by %(day)s··⟧\n"


def test_what_is_kept_in_german_is_forgotten_with_its_words(tmp_path: Path, settings: Any):
    fault = next(iter(faults().by_code.values()))
    with override("de"):
        assert "⟦" not in at_rest(fault, (), "de").drawn
        assert "⟦" not in get_template("_partials/session_ends.html").render()

    speak_made_up(tmp_path, settings, catalogues.marked, catalogues.marked_for_staff)

    with override("de"):
        assert "⟦" in at_rest(fault, (), "de").drawn
        assert "⟦" in get_template("_partials/session_ends.html").render()


def test_no_page_of_a_family_has_a_word_that_is_not_marked(as_, family):
    client = as_(family["guardian"].user)

    answers = {address: said(client.get(address, follow=True)) for address in pages_of(family)}

    assert {address: words for address, answer in answers.items() if (words := unmarked(answer) + commas(answer))} == {}


def test_no_answer_to_a_familys_form_has_a_word_that_is_not_marked(as_, family):
    client = as_(family["guardian"].user)
    loan, sign = f"/family/{family['loans'][0].pk}/", f"/family/sign/{family['signature'].pk}/"
    tries = [
        (loan, {}),
        (loan, {"words": "1" * 1001, "still_plays": "no"}),
        (loan, {"words": "1", "still_plays": "no"}),
        (f"{loan}longer/", {"words": "1"}),
        (f"{loan}lost/", {"words": ""}),
        (f"{loan}lost/", {"words": "1"}),
        (f"{loan}bring/", {"day": "2027-01-01"}),
        (sign, {}),
        (sign, {"typed_name": "1", "agreed": "on"}),
        (f"/family/sign/{family['signed'].pk}/", {"typed_name": "12", "agreed": "on"}),
        ("/account/password/set/", {"password1": "short", "password2": "short"}),
        (f"/family/{family['loans'][3].pk}/", {"words": "1", "still_plays": "no"}),
    ]

    wrong = {str(one): words for one in tries if (words := told(client.post(*one, follow=True)))}

    assert wrong == {}


def test_no_page_of_a_familys_second_step_has_a_word_that_is_not_marked(as_, family):
    user = family["guardian"].user
    asked = ["second-factor/app/activate/", "passkeys/new/", "second-factor/", "second-factor/app/deactivate/"]
    asked += ["second-factor/recovery/", "second-factor/recovery/generate/", "second-factor/again/"]
    client, wrong = as_(user), {}
    for one in asked:
        if one == "second-factor/":
            TOTP.activate(user, "A2B3C4D5")
            RecoveryCodes.activate(user)
        answer = client.get(f"/account/{one}", follow=True)
        secret = getattr(answer.context.get("form"), "secret", "")
        words = [word for word in told(answer) if word not in secret]
        wrong |= {f"{one} {answer.redirect_chain}": words} if words or answer.redirect_chain else {}

    assert wrong == {}


def test_no_page_before_signing_in_has_a_word_that_is_not_marked(as_, family):
    guardian = Guardian.objects.get(pk=family["guardian"].pk)
    guardian.address_changes.create(before="5@6.example", at=make.NOW.replace(year=2100), digest=digest_of("secret"))
    stranger = as_(None)
    asked = ["sign-in/", "code/", "password/reset/", "password/reset/done/", "inactive/", "password/reset/key/1-x/"]
    asked = [*(f"/account/{one}" for one in asked), "/not-me/secret/", "/not-me/other/"]

    wrong = {one: words for one in asked if (words := told(stranger.get(one, follow=True)))}
    for address, said in (
        ("/account/sign-in/", {"login": "1@2.example", "password": "no"}),
        ("/account/sign-in/", {}),
        ("/account/code/", {"email": "none"}),
        ("/account/code/", {"email": "1@2.example"}),
        ("/account/code/confirm/", {"code": "1"}),
    ):
        if words := told(stranger.post(address, said, follow=True)):
            wrong[f"{address} {said}"] = words

    assert wrong == {}
    letters = [f"{letter.subject} {letter.body}" for letter in mail.outbox]
    assert [unmarked(letter) + commas(letter) for letter in letters] == [[]] * len(letters)
    assert mail.outbox


@pytest.mark.parametrize("occasion", ["before-3", "after-1", "recalled", "moved"])
def test_no_letter_about_a_loan_has_a_word_that_is_not_marked(family, occasion):
    assert unmarked("\n".join(composed(family["loans"][0], occasion, make.TODAY))) == []


def test_no_letter_about_signing_has_a_word_that_is_not_marked(family):
    assert unmarked("\n".join(composed(family["signature"], TO_SIGN, make.TODAY))) == []
