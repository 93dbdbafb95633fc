"""The site keeps a backup of each of its last seven days."""

from __future__ import annotations

from datetime import timedelta

import pytest

from fleet.exchange.actions.daily_backups import back_up_daily
from fleet.exchange.queries.backups import looked_through
from fleet.record.models import Act, Deed
from tests import make

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path, settings):
    settings.DATA_DIR = tmp_path
    return tmp_path / "backups"


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_one_a_day_is_made_and_the_last_seven_stay_with_whatever_else_lies_there(folder):
    make.school()
    for day in range(8):
        assert back_up_daily(at=make.NOW + timedelta(days=day)) is not None
        (folder / "horns-by-hand.zip").touch()
        # As the power leaves them when it fails: of the archive, and of the database before that.
        for half in ("", ".sqlite3"):
            (folder / f".horns-2026-09-{day + 13}.zip{half}.part").touch()
    back_up_daily(at=make.NOW + timedelta(days=8))

    assert names(folder) == [f"horns-2026-09-{day}.zip" for day in range(16, 23)] + ["horns-by-hand.zip"]
    assert looked_through(folder / "horns-2026-09-21.zip").at == make.NOW + timedelta(days=7)


def test_a_second_on_the_same_day_is_not_made(folder):
    school = make.school()

    assert back_up_daily(at=make.NOW) == folder / "horns-2026-09-14.zip"
    assert back_up_daily(at=make.NOW + timedelta(hours=1)) is None
    assert names(folder) == ["horns-2026-09-14.zip"]
    act = Act.objects.get(deed=Deed.BACKED_UP)
    assert (act.school, act.at, act.by, act.lines) == (school, make.NOW, None, [["file", "horns-2026-09-14.zip"]])


def test_an_empty_site_pushes_no_backup_out(folder):
    assert back_up_daily(at=make.NOW) is None
    assert not folder.exists()
