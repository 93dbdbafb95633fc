"""The site runs on Windows too: nothing in the source asks for what only other systems have."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE = [
    ROOT / "start.py",
    ROOT / "manage.py",
    *sorted(path for room in ("fleet", "identify", "tests") for path in (ROOT / room).rglob("*.py")),
]

# Flags between the sign and the letter, and letters, that Python hands to the system and Windows does not know.
FLAG = re.compile(r"(?<!%)%[-_^#][a-zA-Z](?![a-zA-Z])")
LETTER = re.compile(r"(?<!%)%[EO]?[klPs+]")
MODULES = {"crypt", "curses", "fcntl", "grp", "posix", "pty", "pwd", "readline", "resource", "syslog", "termios", "tty"}
CALLS = {
    "os": {"chown", "fork", "getegid", "geteuid", "getgid", "getloadavg", "getpgid", "getuid", "killpg", "mkfifo"}
    | {"nice", "sched_getaffinity", "setsid", "statvfs", "sync", "sysconf", "uname", "wait"},
    "signal": {"SIGALRM", "SIGCHLD", "SIGHUP", "SIGKILL", "SIGUSR1", "SIGUSR2", "alarm", "pause", "setitimer"},
    "time": {"tzset"},
}


def not_on_windows(source: str) -> Iterator[tuple[int, str]]:
    """What of a module's text Windows lacks, by line. What a function imports for itself it may know."""
    nodes = list(ast.walk(ast.parse(source)))
    functions = [node for node in nodes if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    lines = {line for one in functions for line in range(one.lineno, (one.end_lineno or one.lineno) + 1)}
    for node in nodes:
        match node:
            case ast.Constant(value=str(words)) if FLAG.search(words):
                yield node.lineno, f"the date format {words!r}"
            case ast.FormattedValue(format_spec=ast.JoinedStr(values=parts)):
                for part in parts:
                    if isinstance(part, ast.Constant) and LETTER.search(str(part.value)):
                        yield node.lineno, f"the date format {part.value!r}"
            case ast.Call(func=ast.Attribute(attr="strftime"), args=[*_, ast.Constant(value=str(words))]):
                if LETTER.search(words):
                    yield node.lineno, f"the date format {words!r}"
            case ast.Import(names=names) if node.lineno not in lines:
                yield from ((node.lineno, f"the module {one.name}") for one in names if one.name in MODULES)
            case ast.ImportFrom(module=str(name)) if node.lineno not in lines and name in MODULES:
                yield node.lineno, f"the module {name}"
            case ast.Attribute(value=ast.Name(id=module), attr=name) if name in CALLS.get(module, ()):
                yield node.lineno, f"{module}.{name}"
    yield from read_in_whatever_letters(nodes)


def read_in_whatever_letters(nodes: Iterable[ast.AST]) -> Iterator[tuple[int, str]]:
    """Text files opened without an encoding: there Windows takes that of the country, and ♭ is an error."""
    for node in nodes:
        if not isinstance(node, ast.Call) or any(word.arg in {"encoding", None} for word in node.keywords):
            continue
        given = [*node.args, *(word.value for word in node.keywords if word.arg == "mode")]
        modes = [one.value for one in given if isinstance(one, ast.Constant) and isinstance(one.value, str)]
        match node.func:
            case ast.Name(id="open") if not any("b" in mode for mode in modes[-1:]):
                yield node.lineno, "a text file without its encoding"
            case ast.Attribute(attr="read_text") if not node.args:
                yield node.lineno, "a text file without its encoding"
            case ast.Attribute(attr="write_text") if len(node.args) == 1:
                yield node.lineno, "a text file without its encoding"


def test_nothing_in_the_source_is_unknown_to_windows():
    found = [
        f"{path.relative_to(ROOT)}:{line}: {what}"
        for path in SOURCE
        if path != Path(__file__)
        for line, what in not_on_windows(path.read_text(encoding="utf-8"))
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "line",
    [
        'f"{day:%-d %B}"',
        'day.strftime("%#d")',
        'day.strftime("%l")',
        'f"{now:%k}"',
        "import fcntl",
        "from resource import getrusage",
        "os.getuid()",
        "signal.SIGKILL",
        "path.read_text()",
        "path.write_text(words)",
        "open(path)",
        'open(path, "w")',
    ],
)
def test_the_check_sees(line):
    assert list(not_on_windows(line))


@pytest.mark.parametrize(
    "line",
    [
        'f"{day.day} {day:%B %Y}"',
        '"%-10s" % name',
        '"100%-ige"',
        "def f():\n    import resource",
        "os.getpid()",
        'path.read_text(encoding="utf-8")',
        'path.write_text(words, encoding="utf-8")',
        'open(path, "rb")',
        'open(path, encoding="utf-8")',
        "Loan.objects.open()",
    ],
)
def test_the_check_lets_pass(line):
    assert not list(not_on_windows(line))
