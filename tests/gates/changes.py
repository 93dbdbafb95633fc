"""Small faults that could be put into a module: where, of what sort, and the text with the fault in it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

EDGES: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
NARROWING = {"filter", "exclude", "get", "aggregate", "annotate", "update"}
# How strong a lock is shows only where two act at one moment, `strict` only where two lists have come apart, and how
# many rows go at a time nowhere: that it is written says what is meant, and no test of what people see could tell.
UNSEEN = {"no_key", "of", "strict", "batch_size", "chunk_size"}


@dataclass(frozen=True)
class Change:
    """One fault: bytes `begin` to `end` of the module become `words`."""

    kind: str
    line: int
    begin: int
    end: int
    words: str

    def made_in(self, source: bytes) -> bytes:
        return source[: self.begin] + self.words.encode() + source[self.end :]


def changes(source: bytes) -> Iterator[Change]:
    """Every fault this module could have. Nothing is changed in what says types, in decorators, in f-strings and where
    nobody could see it."""
    tree = ast.parse(source)
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))

    def change(kind: str, node: ast.expr | ast.stmt, words: str) -> Change:
        begin = starts[node.lineno - 1] + node.col_offset
        return Change(kind, node.lineno, begin, starts[(node.end_lineno or 0) - 1] + (node.end_col_offset or 0), words)

    for node in _seen(tree):
        for kind, new in _expressions(node):
            words = ast.unparse(new)
            yield change(kind, node, words if isinstance(new, ast.Constant | ast.Call) else f"({words})")  # type: ignore[arg-type]
        if isinstance(node, ast.FunctionDef):
            for statement in node.body[:-1]:
                if isinstance(statement, ast.If) and not statement.orelse and len(statement.body) == 1:
                    left = statement.body[0]
                    if isinstance(left, ast.Return | ast.Raise):
                        yield change("early end removed", left, "pass")


def _seen(node: ast.AST) -> Iterator[ast.AST]:
    """The nodes of what runs: without types, decorators, what nobody sees, and f-strings (wrong places in 3.11)."""
    if isinstance(node, ast.JoinedStr) or (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)):
        return
    if isinstance(node, ast.If) and "__name__" in ast.unparse(node.test):
        return
    if isinstance(node, ast.keyword) and node.arg in UNSEEN:
        return
    yield node
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _seen(child)


def _expressions(node: ast.AST) -> Iterator[tuple[str, ast.expr]]:
    match node:
        case ast.Compare(left=left, ops=[op], comparators=[right]):
            yield "comparison", ast.Compare(left, [EDGES[type(op)]()], [right])
            if isinstance(op, ast.Lt | ast.LtE):
                yield "comparison", ast.Compare(left, [ast.GtE() if isinstance(op, ast.Lt) else ast.Gt()], [right])
        case ast.Constant(value=bool(said)):
            yield "yes for no", ast.Constant(not said)
        case ast.Constant(value=int(number)):
            yield "number", ast.Constant(number + 1)
            if number > 0:
                yield "number", ast.Constant(number - 1)
        case ast.BoolOp(op=op, values=values):
            yield "and for or", ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
        case ast.UnaryOp(op=ast.Not(), operand=inner):
            yield "not removed", inner
        case ast.BinOp(left=left, op=ast.Add() | ast.Sub(), right=ast.Constant(value=1)):
            yield "one removed", left
        case ast.Call(func=ast.Attribute(attr=name) as called, args=given, keywords=named) if name in NARROWING:
            if name == "get" and not named:
                return
            for place in range(len(named)):
                if named[place].arg is not None:
                    yield "argument dropped", ast.Call(called, given, named[:place] + named[place + 1 :])
            if name in {"filter", "exclude"}:
                for place in range(len(given)):
                    yield "argument dropped", ast.Call(called, given[:place] + given[place + 1 :], named)
