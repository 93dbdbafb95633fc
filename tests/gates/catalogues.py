"""The catalogues of translations: what is marked in the source, what stands in `locale/`, and that they fit together.

    python3 start.py catalogues          writes what is newly marked into every catalogue, and compiles them
    python3 start.py catalogues --check  writes nothing, and says what does not fit

Without the GNU tools, so that a catalogue can be kept on any machine.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import django
from babel.messages import Catalog
from babel.messages.catalog import Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from fleet.ground.languages import scripts
from tests.gates.our_tables import Text, of_data, of_data_for_staff

HERE = Path(__file__).resolve().parent.parent.parent
# What families read, and what staff alone read, which fewer languages have.
LOCALE = HERE / "locale"
FOR_STAFF = LOCALE / "staff"
# How many texts each marks, and which of its arguments they are; of a context none is made use of.
MARKS = {"_": 1, "gettext": 1, "gettext_lazy": 1, "gettext_noop": 1, "ngettext": 2, "ngettext_lazy": 2}
MARKS_FOR_STAFF = {"_s": 1, "_s_lazy": 1, "_s_many": 2}
# Templates that a family meets; all others are staff's.
OF_FAMILIES = re.compile(
    r"templates/(\d+|base|account/|mfa/|django/|desk/(_?family|_lost_what)|identify/_both_sides"
    r"|people/(letters/|not_me)|_partials/(form_errors|language|masthead|session_ends))"
)
# Where whole millions have a form of their own, which nothing here counts: two, as the framework's own catalogue has.
PLURALS = {"es": "nplurals=2; plural=(n != 1);", "fr": "nplurals=2; plural=(n > 1);"}
IN_TEMPLATE = re.compile(r"\b(_|gettext|ngettext)\(")
TEXT = re.compile(r"\s*(u?'(?:\\.|[^'\\])*'|u?\"(?:\\.|[^\"\\])*\")\s*,?")
PLACEHOLDER = re.compile(r"%\((\w+)\)[sd]|\{(\w+)\}")
# Written from right to left, what is filled in stands between signs that keep it apart: `07/H` would turn round. Not
# what a mail program makes a link of: it might take the sign into it.
KEPT_APART = {"ar"}
APART = re.compile("\u2068[^\u2068\u2069]*\u2069|<bdi>[^<]*</bdi>")
FILLED_IN = re.compile(r"%\((?!origin)\w+\)s|\{(?!page|contact)\w+\}")


def of_python(source: str, marks: Mapping[str, int] = MARKS) -> Iterator[Text]:
    # To read it as Python is dear, and most modules mark nothing.
    if re.search(rf"\b(?:{'|'.join(marks)})\(", source) is None:
        return
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        said = [one.value for one in node.args[: marks.get(node.func.id, 0)] if isinstance(one, ast.Constant)]
        if said and len(said) == marks[node.func.id]:
            yield said[0] if len(said) == 1 else (said[0], said[1])


def of_template(source: str) -> Iterator[Text]:
    from django.utils.translation.template import templatize

    marked = templatize(source)
    for found in IN_TEMPLATE.finditer(marked):
        texts, at = [], found.end()
        for _ in range(MARKS[found[1]]):
            one = TEXT.match(marked, at)
            if one is None:
                break
            texts.append(ast.literal_eval(one[1]))
            at = one.end()
        else:
            yield texts[0] if len(texts) == 1 else (texts[0], texts[1])


def marked() -> Catalog:
    """Every text that a family may read with the files it stands in, in the order of the files."""
    return _gathered([*_in_templates(families=True), *_in_python(MARKS), *_in_scripts(families=True), *of_data()])


def marked_for_staff() -> Catalog:
    """Every other marked text."""
    families = marked()
    texts = [
        *_in_templates(families=False),
        *_in_python(MARKS_FOR_STAFF),
        *_in_scripts(families=False),
        *of_data_for_staff(),
    ]
    return _gathered([(name, one) for name, one in texts if _found(families, one) is None])


def _in_templates(*, families: bool) -> Iterator[tuple[str, Text]]:
    for path in sorted((HERE / "templates").rglob("*.*")):
        name = path.relative_to(HERE).as_posix()
        if path.suffix in {".html", ".svg", ".txt"} and bool(OF_FAMILIES.match(name)) is families:
            yield from ((name, one) for one in of_template(path.read_text(encoding="utf-8")))


def _in_python(marks: Mapping[str, int]) -> Iterator[tuple[str, Text]]:
    for folder in ("fleet", "identify"):
        for path in sorted((HERE / folder).rglob("*.py")):
            name = path.relative_to(HERE).as_posix()
            yield from ((name, one) for one in of_python(path.read_text(encoding="utf-8"), marks))


def _in_scripts(*, families: bool) -> Iterator[tuple[str, Text]]:
    for folder in ("fleet", "identify"):
        for path in sorted((HERE / folder / "static" / folder).glob("*.js")):
            name = path.relative_to(HERE).as_posix()
            for mark, one in scripts.marked(path.read_text(encoding="utf-8")):
                if (mark == "_") is families:
                    yield name, one


def _gathered(texts: Iterable[tuple[str, Text]]) -> Catalog:
    found: dict[Text, dict[str, None]] = {}
    for name, one in texts:
        found.setdefault(one, {})[name] = None
    catalogue = Catalog(charset="utf-8", fuzzy=False)
    for one, names in found.items():
        catalogue.add(one, locations=[(name, 0) for name in names])
    return catalogue


def _found(catalogue: Catalog, text: Text) -> Message | None:
    """The very text, not another that begins alike."""
    one = catalogue.get(text if isinstance(text, str) else text[0])
    return one if one is not None and one.id == text else None


def languages(folder: Path = LOCALE) -> list[str]:
    return sorted(path.parent.name for path in folder.glob("*/LC_MESSAGES"))


def po(language: str, folder: Path = LOCALE) -> Path:
    return folder / language / "LC_MESSAGES" / "django.po"


def read(language: str, folder: Path = LOCALE) -> Catalog:
    with po(language, folder).open("rb") as file:
        return read_po(file, locale=language)


def empty(language: str, comment: str) -> Catalog:
    made = Catalog(locale=language, charset="utf-8", fuzzy=False, header_comment=comment)
    if language in PLURALS:
        made.mime_headers = [("Plural-Forms", PLURALS[language])]
    return made


def brought_up(language: str, wanted: Catalog, folder: Path = LOCALE) -> bytes:
    """The catalogue with exactly the texts that are marked now; what was translated stays."""
    known = read(language, folder) if po(language, folder).exists() else Catalog(locale=language)
    made = empty(language, known.header_comment)
    for one in wanted:
        if one.id:
            before = _found(known, one.id)
            made.add(
                one.id,
                before.string if before is not None else None,
                one.locations,
                user_comments=before.user_comments if before is not None else (),
            )
    file = BytesIO()
    write_po(file, made, width=110, include_lineno=False, omit_header=True)
    head = "\n".join(f'"{name}: {value}\\n"' for name, value in _head(made))
    return f'{made.header_comment}\nmsgid ""\nmsgstr ""\n{head}\n\n'.encode() + file.getvalue()


def _head(made: Catalog) -> list[tuple[str, str]]:
    return [
        ("Language", str(made.locale)),
        ("MIME-Version", "1.0"),
        ("Content-Type", "text/plain; charset=utf-8"),
        ("Content-Transfer-Encoding", "8bit"),
        ("Plural-Forms", made.plural_forms),
    ]


def compiled(catalogue: Catalog) -> bytes:
    file = BytesIO()
    # The same catalogue gives the same bytes on any day.
    catalogue.creation_date = catalogue.revision_date = datetime(2026, 1, 1, tzinfo=UTC)
    write_mo(file, catalogue)
    return file.getvalue()


def texts_of(message: Message) -> tuple[str, ...]:
    return message.id if isinstance(message.id, tuple) else (message.id,)


def faults_of(catalogue: Catalog) -> list[str]:
    """What is wrong with each text, in words: missing, unsure, a form of the plural or a placeholder too few."""
    found = [said for message in catalogue if message.id for said in _wrong(message, catalogue.num_plurals)]
    if str(catalogue.locale) in KEPT_APART:
        found += [f"not kept apart: {texts_of(message)[0]}" for message in catalogue if _mixed(message)]
    return found


def _mixed(message: Message) -> bool:
    said = message.string if isinstance(message.string, tuple) else (message.string,)
    return any(FILLED_IN.search(APART.sub("", one)) for one in said)


def _wrong(message: Message, forms: int) -> Iterator[str]:
    name = texts_of(message)[0]
    said = message.string if isinstance(message.string, tuple) else (message.string,)
    if message.fuzzy:
        yield f"unsure: {name}"
    if not all(said):
        yield f"missing: {name}"
        return
    if len(said) != (forms if isinstance(message.id, tuple) else 1):
        yield f"{len(said)} forms of the plural: {name}"
    wanted = {found[0] for one in texts_of(message) for found in PLACEHOLDER.finditer(one)}
    for form, one in enumerate(said):
        # Where none, one and two have a form each, the word alone says how many.
        spared = {"%(count)d"} if len(said) == 6 and form < 3 else set()
        if {found[0] for found in PLACEHOLDER.finditer(one)} not in (wanted, wanted - spared):
            yield f"other placeholders: {name}"
        if texts_of(message)[0].endswith("\n") != one.endswith("\n"):
            yield f"another end: {name}"


def shelves() -> list[tuple[Path, Catalog]]:
    """The folders of catalogues, each with what is to stand in them."""
    return [(LOCALE, marked()), (FOR_STAFF, marked_for_staff())]


def differences() -> list[str]:
    """Everything that does not fit, in words."""
    found = []
    for folder, wanted in shelves():
        for language in languages(folder):
            name, path = f"{folder.name}/{language}", po(language, folder)
            if path.read_bytes() != brought_up(language, wanted, folder):
                found.append(f"{name}: not what is marked now, or set otherwise")
            catalogue = read(language, folder)
            if path.with_suffix(".mo").read_bytes() != compiled(catalogue):
                found.append(f"{name}: not compiled")
            found += [f"{name}: {one}" for one in faults_of(catalogue)]
    return found


def main(arguments: list[str]) -> int:
    django.setup()
    if "--check" not in arguments:
        for folder, wanted in shelves():
            for language in languages(folder):
                path = po(language, folder)
                path.write_bytes(brought_up(language, wanted, folder))
                path.with_suffix(".mo").write_bytes(compiled(read(language, folder)))
    wrong = differences()
    print("\n".join(wrong) or "every catalogue is whole")
    return 1 if wrong else 0


if __name__ == "__main__":
    import os

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    sys.exit(main(sys.argv[1:]))
