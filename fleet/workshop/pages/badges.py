"""The badges of findings: how bad one is."""

from __future__ import annotations

from django.utils.safestring import SafeString

from fleet.ground.badges import badge
from fleet.workshop.models import Finding

# Kind and sign of each; the words are the workshop's own.
SEVERITIES = {"n": ("", "·"), "w": ("", "◔"), "r": ("care", "!"), "x": ("stop", "✗")}


def severity_badge(severity: str) -> SafeString:
    kind, sign = SEVERITIES.get(severity, ("", "?"))
    return badge(kind, sign, dict(Finding.Severity.choices).get(severity, severity))
