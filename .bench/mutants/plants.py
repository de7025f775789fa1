"""The faults that can be planted in a module: small slips that a person might make."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

FLIPPED: dict[type[ast.AST], type[ast.AST]] = {
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
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
}


@dataclass(frozen=True)
class Fault:
    """A fault in a module: its line, what was done, and the text with it."""

    line: int
    said: str
    planted: str


def faults_in(source: str) -> Iterator[Fault]:
    """Yield every fault that can be planted in the text of a module, one at a time."""
    tree = ast.parse(source)
    for number, node in enumerate(ast.walk(tree)):
        for way in range(len(list(_changes(node)))):
            planted = copy.deepcopy(tree)
            other = list(ast.walk(planted))[number]
            said, change = list(_changes(other))[way]
            change()
            yield Fault(getattr(node, "lineno", 0), said, ast.unparse(planted))


def _changes(node: ast.AST) -> Iterator[tuple[str, Any]]:
    """Yield what can be done to a node, in words and as a function that does it."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in FLIPPED:
        flipped = FLIPPED[type(node.ops[0])]
        yield f"{ast.unparse(node)}: {flipped.__name__}", lambda: node.ops.__setitem__(0, flipped())
    if isinstance(node, ast.BoolOp | ast.BinOp) and type(node.op) in FLIPPED:
        other = FLIPPED[type(node.op)]
        yield f"{ast.unparse(node)}: {other.__name__}", lambda: setattr(node, "op", other())
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield f"{ast.unparse(node)}: sign", lambda: setattr(node, "op", ast.UAdd())
    if isinstance(node, ast.Constant) and type(node.value) is int:
        yield f"{node.value} + 1", lambda: setattr(node, "value", node.value + 1)
    yield from _of_statement(node)
    if isinstance(node, ast.Call):
        yield from _of_call(node)


def _of_statement(node: ast.AST) -> Iterator[tuple[str, Any]]:
    if isinstance(node, ast.If):
        yield (
            f"if {ast.unparse(node.test)}: never",
            lambda: setattr(node, "test", ast.Constant(value=False)),
        )
    if isinstance(node, ast.Return) and node.value is not None:
        yield f"{ast.unparse(node)}: None", lambda: setattr(node, "value", ast.Constant(value=None))
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call) and _guards(node.value):
        yield (
            f"{ast.unparse(node)}: dropped",
            lambda: setattr(node, "value", ast.Constant(value=None)),
        )


def _of_call(node: ast.Call) -> Iterator[tuple[str, Any]]:
    if isinstance(node.func, ast.Attribute) and node.func.attr == "where":
        for place, argument in enumerate(node.args):
            said = f"where({ast.unparse(argument)}): dropped"
            yield said, lambda place=place: node.args.pop(place)
    elif len(node.args) == 2 and not any(isinstance(one, ast.Starred) for one in node.args):
        yield f"{ast.unparse(node)}: swapped", node.args.reverse


def _guards(call: ast.Call) -> bool:
    return "require" in ast.unparse(call.func)
