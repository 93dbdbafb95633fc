"""The log of letters, one letter, the words a school gives them, and how long it keeps names."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.addresses import searched_for
from fleet.ground.answering import answer, answer_elsewhere, one_of, posted, sure
from fleet.ground.languages.known import others_of
from fleet.ground.paging import OnePage, one_page
from fleet.ground.tables import RowsInPages, as_typed
from fleet.letters.actions.bounces import came_back
from fleet.letters.actions.reminding import send_again, send_now
from fleet.letters.actions.rules import keep_rules
from fleet.letters.forms import LetterRulesForm, NamesKeptForm, OtherLanguageForm
from fleet.letters.models import Letter, LetterQuerySet
from fleet.letters.models.letters import BY_HAND
from fleet.letters.models.wording import PLACES
from fleet.letters.pages.table import LetterTable
from fleet.letters.queries.next import next_letters
from fleet.letters.queries.rules import rules_of
from fleet.mail.queries import has_server
from fleet.people.models import School
from fleet.people.models.searched import few_of
from fleet.people.pages.openings import note_opening
from fleet.people.queries.seats import SeatedRequest

# So many loans with a letter to get are counted; of more the page says that there are more.
COUNTED_TO = 50
RELATED = ("loan__horn", "loan__pupil", "signature__horn", "signature__pupil", "guardian")


@as_typed
def letters(request: SeatedRequest) -> HttpResponse:
    """The log, with what goes next. Posting sends what is due now, each letter in a step of its own."""
    return answer(
        request,
        sure(request),
        lambda: send_now(school=request.seat.school, by=request.user, at=request.now),
        page="loans/letters.html",
        shown=lambda: _log(request),
        said=_what_goes,
        then=lambda _: request.seat.here("loans:letters"),
        in_steps=True,
    )


def _what_goes(count: int) -> str:
    if not count:
        return _s("No letter was due.")
    letters = _s("1 letter goes") if count == 1 else _s("%(count)s letters go") % {"count": count}
    return _s("%(letters)s out now. What becomes of each stands here.") % {"letters": letters}


def _log(request: SeatedRequest) -> dict[str, Any]:
    only, words = request.GET.get("state", ""), searched_for(request)
    page_of = partial(_page_of, request.seat.school, only, words)
    table = LetterTable(RowsInPages(page_of, usual=""), school=request.seat.school, today=request.today)
    RequestConfig(request).configure(table)
    states = [("undelivered", _s("did not arrive")), *Letter.State.choices]
    left_out = [] if only in {"", *(value for value, _ in states)} else ["state"]
    # Stands around the list, which alone is drawn while somebody types.
    following = SimpleLazyObject(lambda: next_letters(request.seat.school, request.now, count_to=COUNTED_TO))
    shown = {"table": table, "page": table.data.page, "states": states, "state": only, "left_out": left_out, "q": words}
    return {**shown, "next": following, "counted_to": COUNTED_TO, "has_server": has_server()}


def _page_of(school: School, only: str, words: str, *, sort: str, number: int) -> OnePage[Letter]:
    """Page `number` of the letters with these words that are `undelivered`, in a state or, in none there is, all."""

    def found() -> LetterQuerySet:
        rows = Letter.objects.having_words(words, school=school)
        if only == "undelivered":
            # By keys: they are few, and are found among all letters in their order otherwise.
            few = few_of(undelivered := rows.undelivered())
            return undelivered if few is None else rows.filter(pk__in=few)
        return rows.filter(state=only) if only in Letter.State.values else rows

    shown = Letter.objects.select_related(*RELATED)
    return one_page(found, lambda keys: shown.filter(pk__in=keys), order=["-made_at", "-pk"], number=number)


def letter(request: SeatedRequest, pk: int) -> HttpResponse:
    """One letter as it went out. Posting puts one that did not arrive back into the queue."""
    shown = get_object_or_404(Letter.objects.at(request.seat.school).select_related(*RELATED), pk=pk)
    note_opening(request, guardian=shown.guardian)
    act = one_of(request, {"came-back": _came_back, "": _send_again}) or _page
    return act(request, shown)


def _page(request: SeatedRequest, shown: Letter) -> HttpResponse:
    return render(request, "loans/letter.html", {"letter": shown, "may_go_again": shown.state in Letter.FAILED})


def _came_back(request: SeatedRequest, shown: Letter) -> HttpResponse:
    return answer_elsewhere(
        request,
        sure(request),
        lambda: came_back(
            letter=shown,
            why=f"{request.user}{BY_HAND}",
            by=request.user,
            at=request.now,
        ),
        to=request.seat.here("loans:letter", shown.pk),
        said=lambda back: _s("It stands on Today until the family is reached.") if back else _s("That is known."),
    )


def _send_again(request: SeatedRequest, shown: Letter) -> HttpResponse:
    return answer_elsewhere(
        request,
        sure(request),
        lambda: send_again(letter=shown, by=request.user, at=request.now),
        to=request.seat.here("loans:letter", shown.pk),
        said=lambda put: _s("It goes out with the next letters.") if put else _s("It is on its way already."),
    )


def letter_words(request: SeatedRequest) -> HttpResponse:
    """When letters go out and what they say; with a `language` of the address the same words in another."""
    school = request.seat.school
    rules = rules_of(school)
    # Before the form lays what is not kept yet over the rules.
    lacking, others = rules.lacking, others_of(school.languages, school.language)
    language = next((one for one in others if one.code == request.GET.get("language")), None)
    form: LetterRulesForm | OtherLanguageForm
    if language is None:
        form = LetterRulesForm(posted(request), instance=rules)
    else:
        form = OtherLanguageForm(posted(request), rules=rules, language=language.code)
    here = f"?language={language.code}" if language else ""
    return answer(
        request,
        form,
        lambda: keep_rules(school=school, said=form.said, by=request.user, at=request.now),
        page="loans/letter_words.html",
        shown=lambda: {"places": PLACES, "others": others, "language": language, "lacking": lacking},
        said=_s("The next letters go out like this."),
        then=lambda _: request.seat.here("loans:letter-words") + here,
    )


def names_kept(request: SeatedRequest) -> HttpResponse:
    """Data protection: how long names are kept, with the ways to who looked and who changed what."""
    school = request.seat.school
    form = NamesKeptForm(posted(request), instance=rules_of(school))
    return answer(
        request,
        form,
        lambda: keep_rules(school=school, said=form.cleaned_data, by=request.user, at=request.now),
        page="loans/names_kept.html",
        shown=lambda: {"title": _s("Data protection")},
        said=_s("The settings are saved."),
        then=lambda _: request.seat.here("loans:names-kept"),
    )
