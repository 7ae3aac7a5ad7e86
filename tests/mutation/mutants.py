"""Mutants of one module: every place where one small change of its syntax tree makes another program.

Left alone are docstrings, annotations, messages, and the ends of a guard's range, which say what is plausible and not
what is true; that a guard is there at all is tried by taking it away.
"""

from __future__ import annotations

import ast
import copy
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}
_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_NAMES = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "floor": "ceil", "ceil": "floor"}
_IDENTITIES = {"sqrt", "abs"}


@dataclass(frozen=True)
class Mutant:
    """`tree` is the whole module with the one change."""

    module: str
    line: int
    was: str
    now: str
    tree: ast.Module

    @property
    def key(self) -> str:
        """Stays when lines above are added: by what is changed and where in the order of its like."""
        return f"{self.module} {self.was} -> {self.now}"

    def rank(self, seed: int) -> str:
        return hashlib.sha256(f"{seed} {self.line} {self.key}".encode()).hexdigest()


Change = Callable[[ast.AST], ast.AST]
Place = tuple[tuple[str, int | None], ...]


def mutants(module: str, source: str) -> list[Mutant]:
    tree = ast.parse(source)
    found = []
    for place, node in _places(tree, ()):
        for change in _changes(node):
            changed = copy.deepcopy(tree)
            there = _at(changed, place)
            new = change(there)
            was, now = ast.unparse(node), ast.unparse(new)
            if was == now:
                continue
            _put(changed, place, new)
            found.append(Mutant(module, getattr(node, "lineno", 0), was, now, ast.fix_missing_locations(changed)))
    return found


def _places(node: ast.AST, here: Place) -> Iterator[tuple[Place, ast.AST]]:
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "type_comment") or _is_text(node, name):
            continue
        for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if not isinstance(child, ast.AST) or _is_left_alone(node, name, index, child):
                continue
            place = (*here, (name, index))
            yield place, child
            yield from _places(child, place)


def _is_text(node: ast.AST, name: str) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Raise) and name == "exc")


def _is_left_alone(node: ast.AST, name: str, index: int | None, child: ast.AST) -> bool:
    if isinstance(child, ast.Constant) and isinstance(child.value, str | bytes | bool | None):
        return True
    if isinstance(node, ast.Call) and _name(node.func) == "within" and name == "args" and index in (0, 2, 3, 4):
        return True
    if isinstance(node, ast.Call) and _name(node.func) == "dataclass":
        return True
    if isinstance(child, ast.Assign) and isinstance(child.targets[0], ast.Name):
        return child.targets[0].id == "__all__" or child.targets[0].id.endswith("_RANGE")
    return isinstance(child, ast.Import | ast.ImportFrom) or (
        isinstance(child, ast.If) and _name(child.test) == "TYPE_CHECKING"
    )


def _name(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def _changes(node: ast.AST) -> Iterator[Change]:
    if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        yield _setting("op", _OPERATORS[type(node.op)]())
    if isinstance(node, ast.Compare):
        for index, operator in enumerate(node.ops):
            if type(operator) in _COMPARISONS:
                yield _comparing(index, _COMPARISONS[type(operator)]())
    if isinstance(node, ast.BoolOp):
        yield _setting("op", ast.Or() if isinstance(node.op, ast.And) else ast.And())
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        yield lambda there: there.operand  # type: ignore[attr-defined]
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float) and not isinstance(node.value, bool):
        yield from _numbers(node.value)
    if isinstance(node, ast.If | ast.IfExp | ast.While):
        yield lambda there: _negated(there)
    if isinstance(node, ast.Call):
        yield from _calls(node)


def _setting(name: str, value: ast.AST) -> Change:
    def change(there: ast.AST) -> ast.AST:
        new = copy.copy(there)
        setattr(new, name, value)
        return new

    return change


def _comparing(index: int, operator: ast.cmpop) -> Change:
    def change(there: ast.AST) -> ast.AST:
        new = copy.copy(there)
        new.ops = [*there.ops]  # type: ignore[attr-defined]
        new.ops[index] = operator  # type: ignore[attr-defined]
        return new

    return change


def _numbers(value: int | float) -> Iterator[Change]:
    yield lambda there: ast.Constant(value + 1)
    if isinstance(value, float) and value != 0.0:
        yield lambda there: ast.Constant(value * 1.01)


def _negated(there: ast.AST) -> ast.AST:
    new = copy.copy(there)
    new.test = ast.UnaryOp(ast.Not(), there.test)  # type: ignore[attr-defined]
    return new


def _calls(node: ast.Call) -> Iterator[Change]:
    name = _name(node.func)
    if name == "within" and len(node.args) > 1:
        yield lambda there: ast.parse(f"np.asarray({ast.unparse(there.args[1])}, dtype=float)", mode="eval").body  # type: ignore[attr-defined]
    if name in _NAMES:
        yield lambda there: _renamed(there, _NAMES[name])
    if name in _IDENTITIES and len(node.args) == 1:
        yield lambda there: there.args[0]  # type: ignore[attr-defined]
    for index in range(len(node.keywords) - 1):
        if node.keywords[index].arg and node.keywords[index + 1].arg:
            yield _swapping(index)


def _renamed(there: ast.AST, name: str) -> ast.AST:
    new = copy.copy(there)
    if isinstance(there.func, ast.Attribute):  # type: ignore[attr-defined]
        new.func = ast.Attribute(there.func.value, name, ast.Load())  # type: ignore[attr-defined]
    else:
        new.func = ast.Name(name, ast.Load())  # type: ignore[attr-defined]
    return new


def _swapping(index: int) -> Change:
    def change(there: ast.AST) -> ast.AST:
        new = copy.copy(there)
        one, other = there.keywords[index : index + 2]  # type: ignore[attr-defined]
        swapped = [ast.keyword(one.arg, other.value), ast.keyword(other.arg, one.value)]
        new.keywords = [*there.keywords[:index], *swapped, *there.keywords[index + 2 :]]  # type: ignore[attr-defined]
        return new

    return change


def _at(tree: ast.AST, place: Place) -> ast.AST:
    for name, index in place:
        value = getattr(tree, name)
        tree = value if index is None else value[index]
    return tree


def _put(tree: ast.AST, place: Place, new: ast.AST) -> None:
    parent = _at(tree, place[:-1])
    name, index = place[-1]
    if index is None:
        setattr(parent, name, new)
    else:
        getattr(parent, name)[index] = new
