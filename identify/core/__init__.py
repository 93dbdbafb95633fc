"""Horns as air columns: builds described physically, and everything that follows from the description.

Plain Python without Django, so that it can be tested, benchmarked and reasoned about on its own. Read `horns` first,
then `reasoning`, then `hearing`, `fingering` or `drawing`. A build is added by adding an entry to data/builds.toml.
"""

from __future__ import annotations

from pathlib import Path

DATA = Path(__file__).parent / "data"
