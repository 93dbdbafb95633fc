"""A horn's fingering chart on the page and as a file, and which horns of a class play together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _s

from fleet.desk.queries.horns import unrolled_of
from fleet.desk.queries.together import play_together
from fleet.people.forms.classes import OneClassForm
from fleet.people.forms.one_of_many import asked_for
from fleet.people.queries.seats import SeatedRequest
from fleet.register.models import Horn
from fleet.register.queries.charted import chart_of
from identify.core.drawing.engraving import engraved
from identify.core.drawing.notation import musicxml
from identify.core.drawing.picture import svg
from identify.core.fingering.charts import Chart, ChartNote, bass_clef_matters
from identify.core.fingering.remarks import origins, remarks
from identify.core.fingering.teaching import HIGH_FROM, LAYERS, Teaching, asked, told
from identify.core.fingering.ways import Way
from identify.core.fingering.words import (
    KINDS,
    PARTS,
    chosen_notes,
    differs,
    kind_asked,
    label,
    legend,
    part_of,
    shown_names,
    title,
    trill_label,
)
from identify.core.horns.pitch import parse_note

# More sentences than these a phone folds.
FEW_REMARKS = 3


def chart(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school).select_related("school"), pk=pk)
    school = request.seat.school.slug
    return _page(
        request,
        horn,
        print_at=reverse("reports:chart", args=(school, pk)),
        file_at=reverse("desk:chart-xml", args=(school, pk)),
    )


def chart_xml(request: SeatedRequest, pk: int) -> HttpResponse:
    horn = get_object_or_404(Horn.objects.at(request.seat.school), pk=pk)
    found = chart_of(horn, asked(request.GET))
    if found is None:
        raise Http404("This horn has no chart yet.")
    kind = kind_asked(request.GET)
    answer = HttpResponse(musicxml(found, kind), content_type="application/vnd.recordare.musicxml+xml; charset=utf-8")
    name = f"chart-{horn.number}-{kind}.musicxml".replace(" ", "-").replace("/", "-")
    answer.headers["Content-Disposition"] = content_disposition_header(True, name) or "attachment"
    return answer


def _page(request: HttpRequest, horn: Horn, *, print_at: str, file_at: str) -> HttpResponse:
    kind, teaching = kind_asked(request.GET), asked(request.GET)
    found = chart_of(horn, teaching)
    if found is None:
        return render(request, "desk/chart_none.html", {"horn": horn})
    as_table = request.GET.get("as") == "table"
    here = _Here(kind, teaching, as_table)
    choices = _choices(found, here)
    good_to_know = remarks(found, kind)
    return render(
        request,
        "desk/chart.html",
        {
            "horn": horn,
            "title": title(found),
            "kinds": [(_s(words), here.at(kind=code), code == kind) for code, words in KINDS.items()],
            "choices": choices,
            "taught": " · ".join(_taken(name, ways) for name, ways in choices if any(here for *_, here in ways)),
            "as_table": as_table,
            "layers": teaching.layers,
            "other_way": here.at(as_table=not as_table),
            "tables": table(found, kind) if as_table else [],
            "engraved": "" if as_table else drawn(found, kind, "wide"),
            "on_phone": [] if as_table else on_phone(found, kind),
            "legend": legend(found, kind),
            "remarks": good_to_know,
            "few_remarks": len(good_to_know) <= FEW_REMARKS,
            "origins": origins(found),
            **unrolled_of(found.build, found.stand),
            "print_at": print_at + here.at(as_table=False),
            "file_at": file_at + here.at(as_table=False),
        },
    )


@dataclass(frozen=True, slots=True)
class _Here:
    """What the page shows: which notes, how taught, and whether as a table."""

    kind: str
    teaching: Teaching
    as_table: bool

    def at(self, **changes: Any) -> str:
        """The address of the same page but for these changes."""
        other = replace(self, **changes)
        shown = {"as": "table"} if other.as_table else {}
        return "?" + urlencode({"notes": other.kind, **told(other.teaching), **shown})


def _choices(found: Chart, here: _Here) -> list[tuple[str, list[tuple[str, str, bool]]]]:
    """Each choice that changes what is shown: its name, and the words, address and whether it is the one taken."""
    teaching, groups = here.teaching, list[tuple[str, list[tuple[str, str, bool]]]]()

    def offer(name: str, ways: list[tuple[str, Teaching]]) -> None:
        if any(differs(found, here.kind, one) for _, one in ways):
            groups.append((name, [(words, here.at(teaching=one), one == teaching) for words, one in ways]))

    ways = [(_s("as taught"), True), (_s("never pressed"), False)]
    offer(_s("Thumb"), [(words, replace(teaching, thumb=pressed)) for words, pressed in ways])
    offer(_s("High side from"), [(parse_note(note).display, replace(teaching, high_from=note)) for note in HIGH_FROM])
    if bass_clef_matters(found.build):
        clefs = [(_s("treble, in B♭"), False), (_s("bass, as it sounds"), True)]
        offer(_s("Clef"), [(words, replace(teaching, bass_clef=bass)) for words, bass in clefs])
    layers = [(one, replace(teaching, layers=teaching.layers ^ {one})) for one in LAYERS]
    toggled = [
        (_s(LAYERS[one]), here.at(teaching=other), one in teaching.layers)
        for one, other in layers
        if one in teaching.layers or differs(found, here.kind, other)
    ]
    if toggled:
        groups.append((_s("Also show"), toggled))
    return groups


def _taken(name: str, ways: list[tuple[str, str, bool]]) -> str:
    return f"{name} {', '.join(words for words, _, here in ways if here)}"


def drawn(found: Chart, kind: str, width: str) -> SafeString:
    """The chart as an SVG element; everything in it is drawn and escaped by our own code."""
    return mark_safe(svg(engraved(found.build, found.stand, kind, width, found.teaching), f"chart-{width}"))  # noqa: S308


@dataclass(slots=True)
class ChartPart:
    """Notes in words, with what is shown of them; `opened` where a phone shows them at once."""

    words: str
    shown: Any
    opened: bool


def on_phone(found: Chart, kind: str) -> list[ChartPart]:
    """The chart as a phone shows it: whole, or in parts where more stands below each note."""
    if kind != "all" or not found.teaching.layers:
        return [ChartPart("", drawn(found, kind, "narrow"), opened=True)]
    parts = [part for part in PARTS if chosen_notes(found, part)]
    return [ChartPart(_s(PARTS[part]), drawn(found, part, "narrow"), part == "middle") for part in parts]


def table(found: Chart, kind: str) -> list[ChartPart]:
    """The rows, rising: all notes in parts, those too which the horn cannot sound."""
    if kind != "all":
        return [ChartPart("", _rows(found, chosen_notes(found, kind)), opened=True)]
    split = {part: [note for note in found.notes if part_of(note) == part] for part in PARTS}
    return [ChartPart(_s(PARTS[part]), _rows(found, notes), part == "middle") for part, notes in split.items() if notes]


def _rows(found: Chart, notes: Iterable[ChartNote]) -> list[dict[str, object]]:
    """A row a note."""
    rows: list[dict[str, object]] = []
    for note in notes:
        way = note.usual
        row: dict[str, object] = {"written": shown_names(found, note), "sounding": note.sounding.display, "way": way}
        if way is not None:
            row |= {
                "label": label(found, way, marked=False),
                "cents": _s("by hand") if way.hand else _cents(way),
                "also": [
                    label(found, other, marked=False) + ("" if other.hand else f" {_cents(other)}")
                    for other in note.alternatives
                ],
                "stopped": [label(found, other) for other in note.stopped],
                "trills": [("½ " if one.semitones == 1 else "") + trill_label(found, one) for one in note.trills],
            }
        rows.append(row)
    return rows


def _cents(way: Way) -> str:
    return f"{way.cents:+.0f}".replace("-", "−")


def together(request: SeatedRequest) -> HttpResponse:
    horns = Horn.objects.at(request.seat.school)
    form = OneClassForm(asked_for("group", request.GET), names=horns.classes_out(), empty=_s("all horns"))
    group = form.cleaned_data["group"] if form.is_valid() else ""
    of_class = horns.filter(holder_group=group)
    found = play_together(of_class if group and of_class.exists() else horns.kept())
    return render(request, "desk/together.html", {"form": form, "found": found})
