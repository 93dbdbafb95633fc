"""The product's modules as syntax trees: what the tests of the house read. Nothing is imported, nothing runs."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeGuard

ROOT = Path(__file__).resolve().parent.parent
PRODUCT = ("fleet", "identify")
# What opens a transaction, holds rows or writes many, on whatever it is called.
WRITES = {
    "select_for_update",
    "atomic",
    "bulk_create",
    "bulk_update",
    "get_or_create",
    "update_or_create",
    "_raw_delete",
    "executemany",
    "create",
    "create_user",
    "save",
    "delete",
}
ON_RELATED = {"add", "remove", "set", "clear"}


@dataclass(frozen=True)
class Module:
    name: str
    path: str
    tree: ast.Module
    lines: int

    @property
    def is_migration(self) -> bool:
        return ".migrations." in self.name

    @property
    def layer(self) -> str:
        """`actions` of fleet.lending.actions.returning; the module's own name where it stands beside the slices."""
        parts = self.name.split(".")
        return parts[2] if len(parts) > 2 else parts[-1]


@lru_cache(maxsize=1)
def modules() -> dict[str, Module]:
    """Every module of the product by its dotted name; a package has the name of its folder."""
    found = {}
    for root in PRODUCT:
        for path in sorted((ROOT / root).rglob("*.py")):
            short = path.relative_to(ROOT)
            name = ".".join(short.with_suffix("").parts).removesuffix(".__init__")
            text = path.read_text(encoding="utf-8")
            found[name] = Module(name, short.as_posix(), ast.parse(text), text.count("\n"))
    return found


def imports() -> dict[str, set[str]]:
    """For each module those of ours that it imports, anywhere in it: late ones and those for types alone as well."""
    known = modules()
    found = {}
    for module in known.values():
        asked: set[str] = set()
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Import):
                asked |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                for alias in node.names:
                    whole = f"{node.module}.{alias.name}"
                    asked.add(whole if whole in known else node.module)
        found[module.name] = {one for one in asked if one in known} - {module.name}
    return found


def circles(graph: dict[str, set[str]]) -> list[list[str]]:
    """Groups of modules each of which is reached from every other one of its group."""
    reached = {name: _reached(graph, name) for name in graph}
    groups = {tuple(sorted(other for other in reached[name] if name in reached[other])) for name in graph}
    return [list(group) for group in sorted(groups) if len(group) > 1]


def _reached(graph: dict[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    ahead = [start]
    while ahead:
        for name in graph.get(ahead.pop(), ()):
            if name not in seen:
                seen.add(name)
                ahead.append(name)
    return seen


def functions(module: Module) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """The functions at a module's top."""
    return (node for node in module.tree.body if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))


def writes(tree: ast.AST, related: set[str]) -> Iterator[tuple[ast.expr, str]]:
    """Each expression that writes or holds rows, with the word it does so by.

    `related` are the names of relations to many: `add` on one of those writes, and `add` on a set does not.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == "atomic":
            yield node, "atomic"
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            word, on = node.func.attr, node.func.value
            if (
                (word in WRITES - {"atomic"} and not _is_super(on) and not _keeps_nothing(node))
                or (word == "update" and (node.keywords or _from_rows(on)) and not _of_a_widget(on))
                or (word in ON_RELATED and isinstance(on, ast.Attribute) and on.attr in related)
            ):
                yield node, word


def _is_super(on: ast.expr) -> bool:
    return isinstance(on, ast.Call) and isinstance(on.func, ast.Name) and on.func.id == "super"


def _keeps_nothing(call: ast.Call) -> bool:
    """`form.save(commit=False)`."""
    said = [one.value for one in call.keywords if one.arg == "commit"]
    return any(isinstance(one, ast.Constant) and one.value is False for one in said)


def _of_a_widget(on: ast.expr) -> bool:
    """`field.widget.attrs`, a plain dictionary."""
    return isinstance(on, ast.Attribute) and on.attr == "attrs"


def _from_rows(on: ast.expr) -> bool:
    """Whether a chain of calls begins at rows: `Horn.objects.filter(…)`, `horn.loans.all()`."""
    while isinstance(on, ast.Call | ast.Attribute | ast.Subscript):
        if isinstance(on, ast.Attribute) and on.attr in {"objects", "filter", "exclude", "all"}:
            return True
        on = on.func if isinstance(on, ast.Call) else on.value
    return False


def used_from_outside() -> set[tuple[str, str]]:
    """Functions of actions that something other than an action calls, as module and name."""
    known = modules()
    acts = {name for name, module in known.items() if module.layer == "actions"}
    used = set()
    for module in known.values():
        if module.layer == "actions":
            continue
        called: dict[str, str] = {}
        for node in ast.walk(module.tree):
            if isinstance(node, ast.ImportFrom) and node.module:
                for alias in node.names:
                    whole = f"{node.module}.{alias.name}"
                    if whole in acts:
                        called[alias.asname or alias.name] = whole
                    elif node.module in acts:
                        used.add((node.module, alias.name))
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in called:
                used.add((called[node.value.id], node.attr))
    return used


def writing(module: Module, related: set[str]) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """The functions at a module's top that write, by themselves or by calling another of the module that does."""
    own = {function.name: function for function in functions(module)}

    def does(name: str, asked: tuple[str, ...]) -> bool:
        if any(writes(own[name], related)):
            return True
        called = {node.func.id for node in ast.walk(own[name]) if _calls_by_name(node)}
        return any(does(one, (*asked, one)) for one in called & own.keys() - set(asked))

    return (function for name, function in own.items() if does(name, (name,)))


def _calls_by_name(node: ast.AST) -> TypeGuard[Any]:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
