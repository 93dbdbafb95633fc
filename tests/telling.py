"""What a page tells, as lines of plain words: what is read, where links lead, what may be typed."""

from __future__ import annotations

import re
from html.parser import HTMLParser

INLINE = {"a", "abbr", "b", "bdi", "code", "em", "i", "kbd", "span", "strong", "small", "sub", "sup", "time", "mark"}
CELLS = {"td", "th"}
# What of a field nobody reads and nobody is held to.
UNSEEN = ("aria-", "class", "data-", "id", "style")
UNREAD = {"script", "style", "svg", "template"}
# On every page the same and hidden: that a session ends soon (tests/browser/test_typed.py).
ENDS = re.compile(r'<div class="box notice" role="alert" hidden.*?</div>', re.S)
# Another each time, though nothing changed.
PROOFS = re.compile(r"\b(?:\w{64}|[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d+:[0-9a-f]{16})\b")


def telling(page: str) -> list[str]:
    """The lines of a page's main part."""
    inside = re.search(r"<main.*</main>", page, re.S)
    reader = _Reader()
    reader.feed(ENDS.sub("", inside.group() if inside else page))
    return reader.told()


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self.line: list[str] = []
        self.unread = 0
        self.leads: list[str] = []

    def told(self) -> list[str]:
        self.end_line()
        return self.lines

    def end_line(self) -> None:
        if line := " ".join("".join(self.line).split()):
            self.lines.append(PROOFS.sub("(a proof)", line))
        self.line = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in UNREAD:
            self.unread += 1
        if self.unread:
            return
        if tag not in INLINE | CELLS | {"option"}:
            self.end_line()
        if tag == "a":
            self.leads.append(given.get("href") or "")
        elif tag == "form":
            self.lines.append(f"({given.get('method') or 'get'} {given.get('action') or ''})")
        elif tag in {"input", "select", "textarea", "button", "option"}:
            said = [f"{name}={value}" if value else name for name, value in attrs if not name.startswith(UNSEEN)]
            self.line.append(f" [{' '.join([*([] if tag in {'input', 'option'} else [tag]), *said])}] ")
        elif tag == "img":
            self.line.append(f" (picture: {given.get('alt')}) ")

    def handle_endtag(self, tag: str) -> None:
        if tag in UNREAD:
            self.unread -= 1
        elif not self.unread and tag == "a" and self.leads:
            self.line.append(f" ({self.leads.pop()}) ")
        elif not self.unread and tag in CELLS:
            self.line.append(" | ")
        elif not self.unread and tag not in INLINE | {"option"}:
            self.end_line()

    def handle_data(self, data: str) -> None:
        if not self.unread:
            self.line.append(data)
