"""A command that is told to stop puts away what is half done and says so."""

from __future__ import annotations

import io
import signal
import traceback

import pytest
from django.core.management import CommandError, call_command

from fleet.people.models import School
from tests.exchange.whole import emptied, furnish, out


class Stopping(io.StringIO):
    """Where the command says what it does: from these words on it is told to stop, more than once."""

    def __init__(self, words: str, number: int) -> None:
        super().__init__()
        self.words, self.number = words, number

    def write(self, said: str) -> int:
        written = super().write(said)
        if self.words in self.getvalue():
            signal.raise_signal(self.number)
        return written


def half_read(trouble: BaseException) -> list[str]:
    """Functions of ours that still hold what they were at."""
    frames = (frame for frame, _ in traceback.walk_tb(trouble.__traceback__) if "queries" in frame.f_code.co_filename)
    return [frame.f_code.co_name for frame in frames if frame.f_locals]


ENDS = [getattr(signal, name) for name in ("SIGTERM", "SIGINT", "SIGHUP") if hasattr(signal, name)]
# What a signal does to what is half written hangs on no engine as to which signal it is.
EACH_END = [ENDS[0], *(pytest.param(one, marks=pytest.mark.either_engine) for one in ENDS[1:])]


@pytest.fixture(autouse=True)
def nothing_ignored_yet():
    """As in a terminal. Who runs the tests in the background may have had some of them ignored from the start."""
    usual = {one: signal.signal(one, signal.default_int_handler) for one in ENDS}
    yield
    for one, handler in usual.items():
        signal.signal(one, handler)


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["export_school", "hill-road"], "people-school: 1"),
        (["export_school", "hill-road"], "loan sheets: 2"),
        (["backup"], "database: "),
    ],
)
@pytest.mark.parametrize("number", EACH_END)
def test_a_signal_ends_what_writes_a_file_with_a_sentence_and_leaves_no_half_of_it(
    db, tmp_path, number, command, words
):
    furnish()
    usual = [signal.getsignal(one) for one in ENDS]
    file = tmp_path / "all.zip"

    with pytest.raises(CommandError, match=r"Stopped before it was done\. .*all\.zip was not written\.") as ended:
        call_command(*command, str(file), stdout=Stopping(words, number))

    assert ended.value.returncode == 128 + number
    # Held until the program ends, they would be closed after the database, each with a complaint.
    assert half_read(ended.value.__cause__) == []
    assert not any(path.is_file() for path in tmp_path.iterdir())
    assert [signal.getsignal(one) for one in ENDS] == usual
    call_command(*command, str(file))
    assert file.exists()


@pytest.mark.parametrize("number", EACH_END)
def test_a_signal_ends_the_bringing_in_of_a_school_and_nothing_of_it_stays(db, tmp_path, settings, number):
    file = out(furnish(), tmp_path)
    emptied()
    settings.MEDIA_ROOT = tmp_path / "elsewhere"
    after_a_picture = Stopping("register-photograph: 1", number)

    with pytest.raises(CommandError, match=r"Stopped before it was done\. Nothing was brought in\."):
        call_command("import_school", str(file), stdout=after_a_picture)

    assert not School.objects.exists()
    assert not any(path.is_file() for path in settings.MEDIA_ROOT.rglob("*"))


def test_what_is_to_outlive_its_terminal_goes_on(db, tmp_path):
    furnish()
    signal.signal(ENDS[-1], signal.SIG_IGN)

    call_command("export_school", "hill-road", str(tmp_path / "all.zip"), stdout=Stopping("loan sheets: 2", ENDS[-1]))

    assert signal.getsignal(ENDS[-1]) is signal.SIG_IGN
    assert (tmp_path / "all.zip").exists()
