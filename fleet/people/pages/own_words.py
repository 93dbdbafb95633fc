"""What the site says to families in a language, beside the English, and a school's own wording of a sentence of it."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _s
from django_tables2 import RequestConfig

from fleet.ground.addresses import searched_for
from fleet.ground.answering import answer, posted
from fleet.ground.badges import badge
from fleet.ground.languages.known import KNOWN, Language
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.languages.own import set_apart
from fleet.ground.tables import Computed, ListTable
from fleet.ground.wording import folded
from fleet.people.actions.own_words import word
from fleet.people.forms.own_words import OwnWordsForm
from fleet.people.queries.own_words import Sentence, sentences
from fleet.people.queries.seats import SeatedRequest


class SentenceTable(ListTable):
    around = {"class": "table-wrap rows sentences"}

    text = Computed(_s_lazy("English"))
    shown = Computed(_s_lazy("What families read"))

    class Meta:
        orderable = False
        per_page = 25
        empty_text = _s_lazy("No sentence holds these words.")

    def __init__(self, *args: object, request: SeatedRequest, language: Language) -> None:
        self.here, self.language = request.seat.here, language
        super().__init__(*args)

    def render_text(self, record: Sentence) -> SafeString:
        to = self.here("people:settings-sentence", self.language.code, record.key)
        return format_html('<a href="{}" lang="en">{}</a>', to, record.text)

    def render_shown(self, record: Sentence) -> SafeString:
        own = badge("", "✎", _s("your own")) if any(record.own) else ""
        return format_html(
            '<span lang="{}" dir="{}">{}</span> {}',
            self.language.code,
            self.language.direction,
            set_apart(self.language.code, record.shown),
            own,
        )


def sentence_list(request: SeatedRequest, language: str) -> HttpResponse:
    spoken = _known(language)
    words = searched_for(request)
    sought, own = folded(words), request.GET.get("own") == "yes"
    found = [
        one
        for one in sentences(request.seat.school, language)
        if (any(one.own) or not own) and sought in folded(f"{one.text} {one.shown}")
    ]
    table = SentenceTable(found, request=request, language=spoken)
    RequestConfig(request).configure(table)
    shown = {"table": table, "language": spoken, "q": words, "own": own, "many": len(found)}
    return render(request, "people/own_words_list.html", shown)


def own_words(request: SeatedRequest, language: str, key: str) -> HttpResponse:
    seat, spoken = request.seat, _known(language)
    sentence = next((one for one in sentences(seat.school, language) if one.key == key), None)
    if sentence is None:
        raise Http404("No such sentence.")
    apart = [set_apart(language, one) for one in sentence.ours]
    form = OwnWordsForm(posted(request), sentence=sentence, language=language)
    return answer(
        request,
        form,
        lambda: word(
            school=seat.school, language=language, text=sentence.text, by=request.user, at=request.now, **form.said
        ),
        page="people/own_words.html",
        shown=lambda: {"sentence": sentence, "ours": apart, "language": spoken},
        said=_s("Saved. Families read it so from now on."),
        then=lambda _: seat.here("people:settings-sentence", language, key),
    )


def _known(language: str) -> Language:
    if language not in KNOWN:
        raise Http404("No such language.")
    return KNOWN[language]
