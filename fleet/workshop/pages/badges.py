"""The badges of findings: how bad one is. A class, a sign and a word for each."""

from __future__ import annotations

SEVERITIES = {
    "n": ("", "·", "note"),
    "w": ("", "◔", "watch"),
    "r": ("care", "!", "repair before loan"),
    "x": ("stop", "✗", "must not be played"),
}
