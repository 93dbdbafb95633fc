"""`{% piece at=school.slug many=page.total %}…{% endpiece %}`: a piece of a page, drawn once for the same values.

Inside stands nothing but what the tag names, so that what is kept shows nobody else's. `{% here %}` goes by its `at`,
`{% with_query %}` by its `asked`.
"""

from __future__ import annotations

from typing import Any

from django import template
from django.template.base import FilterExpression, Node, NodeList, Parser, Token, token_kwargs
from django.urls import get_script_prefix
from django.utils.translation import get_language

from fleet.ground.languages.own import in_force

register = template.Library()
# Of each piece so many are kept, in every process.
MOST = 300


class PieceNode(Node):
    def __init__(self, inside: NodeList, named: dict[str, FilterExpression]) -> None:
        self.inside, self.named = inside, named
        self._drawn: dict[Any, str] = {}

    def render(self, context: Any) -> str:
        values = [value.resolve(context) for value in self.named.values()]
        if in_force():
            return self._draw(context, values)
        # What is safe already is drawn otherwise than the same text that is not.
        like = (get_language(), get_script_prefix(), *values, *map(type, values))
        drawn = self._drawn.get(like)
        if drawn is None:
            if len(self._drawn) >= MOST:
                self._drawn.clear()
            drawn = self._drawn[like] = self._draw(context, values)
        return drawn

    def _draw(self, context: Any, values: list[Any]) -> str:
        return self.inside.render(context.new(dict(zip(self.named, values, strict=True))))


@register.tag
def piece(parser: Parser, token: Token) -> PieceNode:
    words = token.split_contents()[1:]
    named = token_kwargs(words, parser)
    if words:
        raise template.TemplateSyntaxError("A piece gives what it shows a name: {% piece at=school.slug %}.")
    inside = parser.parse(("endpiece",))
    parser.delete_first_token()
    return PieceNode(inside, named)
