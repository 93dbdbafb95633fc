"""Small words for templates: money, accidentals, addresses that keep a list's state, forms drawn our way."""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django import template
from django.http import QueryDict
from django.template.base import Node, Parser, Token
from django.templatetags import static as static_files
from django.templatetags.i18n import do_translate
from django.urls import get_script_prefix, reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join, json_script
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext as _s

from fleet.ground import badges, wording
from fleet.ground.access import DOORS, Role
from fleet.ground.addresses import address, query_with
from fleet.ground.badges import badge, money
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.languages.scripts import words_of
from fleet.ground.refusal import Refused
from fleet.people.models import Post, School
from fleet.register.models.kinds import said_again, stand_in_words
from fleet.register.pages.badges import grade_badge, kind_and_whereabouts, whereabouts, whereabouts_in_short
from fleet.workshop.models.steps import told_again
from fleet.workshop.pages.badges import severity_badge
from identify.core.horns.speech import within

register = template.Library()
register.simple_tag(address)
register.simple_tag(badge)
register.filter(money)
register.filter(wording.minutes)
register.filter(wording.reachable)
register.filter(stand_in_words)
register.filter(said_again)
register.filter(told_again)
register.filter(within)
register.filter(wording.either)
register.filter(wording.long_day)
register.filter(wording.with_commas)
register.simple_tag(kind_and_whereabouts)
register.simple_tag(whereabouts)
register.simple_tag(whereabouts_in_short)
register.simple_tag(grade_badge, name="grade_badge")
register.simple_tag(severity_badge)


class SaidNode(Node):
    """A sentence in the reader's language."""

    def __init__(self, text: str) -> None:
        # As the catalogues have it, where a percent sign might begin a placeholder.
        self.text = text.replace("%", "%%")

    def render(self, context: Any) -> str:
        return gettext(self.text).replace("%%", "%")


@register.tag
def translate(parser: Parser, token: Token) -> Node:
    """Django's tag, which takes three times as long for a plain sentence; a page has fifty of them."""
    said = token.contents.removeprefix("translate ").strip()
    plain = said[0] == said[-1] and said[0] in "'\"" and said[0] not in said[1:-1] and "\\" not in said
    return SaidNode(said[1:-1]) if plain else do_translate(parser, token)


@register.simple_tag
@lru_cache(maxsize=256)
def static(name: str) -> str:
    """The address of a file of ours. It is another one only after a new start."""
    return static_files.static(name)


@register.simple_tag(takes_context=True)
def here(context: dict[str, Any], name: str, *args: Any, **kwargs: Any) -> str:
    """The address of a page of the school we are at: `{% here 'desk:horn' horn.pk %}`, inside a piece of the one it
    names."""
    seat = context.get("seat")
    at = seat.school.slug if seat else context.get("at")
    if at is None:
        return reverse(name, args=args, kwargs=kwargs)
    return reverse(name, kwargs={"school": at, **kwargs}) if kwargs else address(name, at, *args)


@register.simple_tag(takes_context=True)
def overdue(context: dict[str, Any], of: Any, at: School | None = None) -> SafeString:
    """How long a loan, horn, repair job or charge is overdue, as a label; empty for what is not. A family's page says
    of which school it is, since each has a day of its own."""
    request = context["request"]
    return badges.overdue(of.due(timezone.localdate(request.now, at.zone) if at else request.today))


@register.simple_tag(takes_context=True)
def short_day(context: dict[str, Any], when: date) -> str:
    """`3 May`, with its year where that is not this one."""
    on = timezone.localdate(when) if isinstance(when, datetime) else when
    return wording.short_day(on, context["request"].today)


@register.simple_tag(takes_context=True)
def way_out(context: dict[str, Any], refused: Refused) -> str:
    """The address of the page that removes the reason; "" where there is none or this person may not go there."""
    seat = context.get("seat")
    return seat.way(refused.way_out) if seat else ""


@register.simple_tag(takes_context=True)
def with_query(context: dict[str, Any], **changes: Any) -> str:
    """This page's query with some parameters changed; an empty value removes one. Inside a piece it is `asked`."""
    asked = context["request"].GET if "request" in context else QueryDict(context["asked"])
    return query_with(asked, **changes)


@register.simple_tag
def script(name: str) -> SafeString:
    """A script of ours, behind its sentences in the reader's language."""
    words = words_of(name)
    said = json_script(words, f"words-{name.rpartition('/')[2].removesuffix('.js')}") if words else ""
    return format_html('{}<script src="{}" defer></script>', said, static(name))


@register.simple_tag
def role_word(role: str) -> str:
    """A role as people say it: "department head"."""
    return str(dict(Post.Role.choices).get(role, _s("guardian") if role == "guardian" else ""))


# The pages of the site in the order of the masthead: view name, label.
PAGES = (
    ("desk:today", _s_lazy("Today")),
    ("register:horns", _s_lazy("Horns")),
    ("identify:walk", _s_lazy("Identify")),
    ("loans:loans", _s_lazy("Loans")),
    ("workshop:bench", _s_lazy("Workshop")),
    ("people:pupils", _s_lazy("Pupils")),
    ("counting:counts", _s_lazy("Count")),
    ("desk:prints", _s_lazy("Prints")),
    ("people:settings", _s_lazy("Settings")),
)
OF_SETTINGS = {
    "people:openings",
    "people:staff-new",
    "people:staff-edit",
    "people:holiday-new",
    "people:holiday-edit",
    "desk:record",
    "loans:names-kept",
    "loans:new-year",
}


@register.simple_tag(takes_context=True)
def pages(context: dict[str, Any]) -> SafeString:
    """The ways to the pages this person may read, for the masthead, with the one we are in marked; none where there is
    no seat."""
    seat, match = context.get("seat"), context["request"].resolver_match
    if seat is None:
        return SafeString()
    view_name, app_name = (match.view_name, match.app_name) if match else ("", "")
    if app_name == "people" or view_name in OF_SETTINGS:
        # Two pages of the line are of one slice.
        of_settings = view_name in OF_SETTINGS or view_name.startswith("people:settings")
        inside = "people:settings" if of_settings else "people:pupils"
    else:
        # Pages of the desk stand each for itself.
        begins = f"{app_name}:" if app_name != "desk" else view_name
        inside = next((name for name, _ in PAGES if name == view_name or name.startswith(begins)), "") if match else ""
    return _ways(seat.role, inside, seat.school.slug, get_script_prefix(), get_language())


@lru_cache(maxsize=1024)
def _ways(role: Role, inside: str, slug: str, _below: str, _language: str | None) -> SafeString:
    """Every page has them, and at a school each role has the same ones, in a language and below a path."""
    return format_html_join(
        "\n",
        '<a href="{}"{}>{}</a>',
        (
            (reverse(name, args=(slug,)), mark_safe(' aria-current="page"') if name == inside else "", label)
            for name, label in PAGES
            if role in DOORS[name].read
        ),
    )
