"""The small faults: where a source can be changed, and the source changed in one place."""

from __future__ import annotations

import ast
import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

COMPARE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.MatMult: ast.Add,
}  # fmt: skip
#: Calls that are often mistaken for one another.
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}
METHODS = {"filter": "exclude", "exclude": "filter", "first": "last", "startswith": "endswith"}
#: Calls whose every keyword is a condition: each is left out in turn.
QUERIES = {"filter", "exclude", "get"}
#: Calls whose texts are names of columns; a wrong one raises at once, which tells nothing.
COLUMNS = {
    "select_related",
    "prefetch_related",
    "values_list",
    "values",
    "only",
    "defer",
    "getattr",
    "setattr",
    "hasattr",
}
#: What is said to the program's log is for whoever keeps the server, and no decision.
UNHEARD = {"log", "logger", "logging"}
#: Smaller numbers are the dust of binary fractions, and stand for "none".
DUST = 1e-5
#: A text or number is told by what it stands in, unless that is longer.
MOST_TOLD = 70
#: A code, a verb of the log, a unit: never a sentence.
CODE = re.compile(r"[a-z][a-z0-9 _:.%/-]*")


@dataclass(frozen=True)
class Change:
    """One fault: ``where`` (the function, or nothing at the top), what stands there and what would."""

    where: str
    before: str
    after: str
    line: int
    nth: int = 1

    @property
    def name(self) -> str:
        """The same as long as the code there is the same, wherever it moves in its file."""
        again = f" ({self.nth})" if self.nth > 1 else ""
        return f"{self.where or 'module'}: {self.before} -> {self.after}{again}"


@dataclass(frozen=True)
class _Site:
    line: int
    before: str
    after: str
    make: Callable[[], None]


def changes_of(source: str, *, words: bool = False) -> list[Change]:
    """Every change of a source, in order. With ``words`` its sentences are changed too, not only its codes."""
    found: list[Change] = []
    count: Counter[tuple[str, str, str]] = Counter()
    for where, site in _sites(ast.parse(source), words):
        key = where, site.before, site.after
        count[key] += 1
        found.append(Change(where, site.before, site.after, site.line, count[key]))
    return found


def changed(source: str, change: Change, *, words: bool = False) -> tuple[ast.Module, int]:
    """The tree with that one change made, and which of its top statements holds it."""
    tree = ast.parse(source)
    left = change.nth
    for where, site in _sites(tree, words):
        if (where, site.before, site.after) == (change.where, change.before, change.after):
            left -= 1
            if left == 0:
                site.make()
                ast.fix_missing_locations(tree)
                return tree, next(
                    k for k, top in enumerate(tree.body) if first_line(top) <= site.line <= (top.end_lineno or 0)
                )
    raise LookupError(f"No such change: {change.name}")


def drawn(changes: list[Change], most: int | None, seed: str) -> list[Change]:
    """At most so many, by lot; the same lot for a change as long as its name is the same."""
    if most is None or len(changes) <= most:
        return changes
    lots = sorted(changes, key=lambda change: hashlib.sha256(f"{seed} {change.name}".encode()).digest())[:most]
    return [change for change in changes if change in set(lots)]


def first_line(top: ast.stmt) -> int:
    decorators = getattr(top, "decorator_list", [])
    return min([top.lineno, *(decorator.lineno for decorator in decorators)])


def _sites(tree: ast.Module, words: bool) -> Iterator[tuple[str, _Site]]:
    for top in tree.body:
        yield from _of_statement(top, "", words)


def _of_statement(node: ast.stmt, where: str, words: bool) -> Iterator[tuple[str, _Site]]:
    """The changes of a statement, then of those within it."""
    if isinstance(node, ast.Import | ast.ImportFrom | ast.Assert) or _is_type(node) or _is_unheard(node):
        return
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        if any("njit" in ast.unparse(one) or "kernel" in ast.unparse(one) for one in node.decorator_list):
            return
        where = f"{where}.{node.name}" if where else node.name
    for site in _whole(node):
        yield where, site
    inner: list[ast.stmt] = []
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "bases", "keywords", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.stmt):
                inner.append(child)
            elif isinstance(child, ast.ExceptHandler):
                inner += child.body
            elif isinstance(child, ast.AST) and not _is_docstring(node, child):
                for site in _of_expression(child, node, words):
                    yield where, site
    for child in inner:
        yield from _of_statement(child, where, words)


def _is_type(node: ast.stmt) -> bool:
    return isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)


def _is_unheard(node: ast.stmt) -> bool:
    return (
        isinstance(node, ast.Expr | ast.Assign)
        and isinstance(node.value, ast.Call)
        and ast.unparse(node.value.func).split(".")[0] in UNHEARD
    )


def _is_docstring(parent: ast.AST, node: ast.AST) -> bool:
    return isinstance(parent, ast.Expr) and isinstance(node, ast.Constant)


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 110 else text[:107] + "..."


def _whole(node: ast.stmt) -> Iterator[_Site]:
    """A statement left out, a condition turned round, a value not given back."""

    def left_out() -> None:
        node.__class__ = ast.Pass  # type: ignore[assignment]
        node._fields = ()  # type: ignore[misc]

    if (
        (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call))
        or isinstance(node, ast.AugAssign | ast.Continue | ast.Break)
        or (isinstance(node, ast.Assign) and all(isinstance(t, ast.Attribute | ast.Subscript) for t in node.targets))
        or (isinstance(node, ast.Return) and node.value is None)
    ):
        yield _Site(node.lineno, _short(node), "(left out)", left_out)
    if isinstance(node, ast.Return) and node.value is not None and _short(node.value) != "None":
        plain = node

        def nothing() -> None:
            plain.value = ast.Constant(None)

        yield _Site(node.lineno, _short(node), "return None", nothing)


def _of_expression(node: ast.AST, parent: ast.AST, words: bool) -> Iterator[_Site]:
    """The changes of an expression within ``parent``, which it is told by when it is small itself."""
    yield from _truth(node, parent)
    if isinstance(node, ast.Compare):
        yield from _comparisons(node)
    elif isinstance(node, ast.BoolOp):
        yield _swap(node, node, "op", ast.Or() if isinstance(node.op, ast.And) else ast.And())
    elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
        yield _swap(node, node, "op", ARITHMETIC[type(node.op)]())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        yield _swap(node, node, "op", ast.UAdd() if isinstance(node.op, ast.USub) else _Same())
        if isinstance(node.operand, ast.Constant):
            return
    elif isinstance(node, ast.Constant):
        yield from _constants(node, parent, words)
    elif isinstance(node, ast.Call):
        yield from _calls(node)
    for child in _parts(node):
        yield from _of_expression(child, node, words)


class _Same(ast.Invert):
    """In place of ``not``: the truth of the value itself."""


def _parts(node: ast.AST) -> list[ast.AST]:
    if isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ast.unparse(node.func)
        columns = name in COLUMNS
        given: list[ast.AST] = [one for one in node.args if not (columns and isinstance(one, ast.Constant))]
        named = [
            one.value
            for one in node.keywords
            if one.arg not in ("update_fields", "of", "strict") and one.arg is not None
        ]
        return [node.func, *given, *named] if isinstance(node.func, ast.Attribute) else [*given, *named]
    if isinstance(node, ast.arguments):
        return [one for one in (*node.defaults, *node.kw_defaults) if one is not None]
    if isinstance(node, ast.Lambda):
        return [*_parts(node.args), node.body]
    if isinstance(node, ast.FormattedValue):
        return [node.value]
    if isinstance(node, ast.comprehension):
        return [node.iter, *node.ifs]
    return [one for one in ast.iter_child_nodes(node) if isinstance(one, ast.expr | ast.comprehension)]


def _set(owner: object, field: str, value: object) -> Callable[[], None]:
    return lambda: setattr(owner, field, value)


def _swap(node: ast.expr, owner: object, field: str, value: object) -> _Site:
    """The site for another value of a node's field, told by the node before and after."""
    before, old = _short(node), getattr(owner, field)
    if isinstance(value, _Same):
        after = _short(node.operand)  # type: ignore[attr-defined]
        return _Site(node.lineno, before, after, lambda: _become(node, node.operand))  # type: ignore[attr-defined]
    whole = ast.unparse(node)
    setattr(owner, field, value)
    after, changed_whole = _short(node), ast.unparse(node)
    setattr(owner, field, old)
    if before == after:  # too long to show where: from a little before the difference on
        at = next(k for k, (a, b) in enumerate(zip(whole, changed_whole, strict=False)) if a != b)
        before, after = (f"...{text[max(0, at - 40) : at + 40]}" for text in (whole, changed_whole))
    return _Site(node.lineno, before, after, _set(owner, field, value))


def _become(node: ast.AST, other: ast.AST) -> None:
    node.__class__ = other.__class__  # type: ignore[assignment]
    node.__dict__.clear()
    node.__dict__.update(other.__dict__)


def _truth(node: ast.AST, parent: ast.AST) -> Iterator[_Site]:
    """A bare condition turned round; those with an operator of their own are changed there."""
    of_test = isinstance(parent, ast.If | ast.While | ast.IfExp) and parent.test is node
    of_filter = isinstance(parent, ast.comprehension) and node in parent.ifs
    if (of_test or of_filter) and isinstance(node, ast.Name | ast.Attribute | ast.Call | ast.NamedExpr | ast.Subscript):
        owner: object = parent
        if of_test:
            make = _set(owner, "test", ast.UnaryOp(ast.Not(), node))
        else:
            assert isinstance(parent, ast.comprehension)
            at, ifs = parent.ifs.index(node), parent.ifs

            def make() -> None:
                ifs[at] = ast.UnaryOp(ast.Not(), node)

        yield _Site(node.lineno, f"if {_short(node)}", f"if not {_short(node)}", make)


def _comparisons(node: ast.Compare) -> Iterator[_Site]:
    for k, op in enumerate(node.ops):
        other = [*node.ops]
        other[k] = COMPARE[type(op)]()
        yield _swap(node, node, "ops", other)


def _constants(node: ast.Constant, parent: ast.AST, words: bool) -> Iterator[_Site]:
    told = parent if isinstance(parent, ast.expr | ast.Assign | ast.AnnAssign | ast.Return) else node
    if len(ast.unparse(told)) > MOST_TOLD:
        told = node
    value = node.value
    others: list[object] = []
    if isinstance(value, bool):
        others = [not value]
    elif isinstance(value, int):
        others = [value + 1, value - 1]
    elif isinstance(value, float):
        others = (
            [1.0] if value == 0.0 else [] if abs(value) < DUST else [round(value * 1.1, 12), round(value * 0.9, 12)]
        )
    elif isinstance(value, str):
        others = _texts(value, parent, words)
    for other in others:
        before = _short(told)
        node.value = other  # type: ignore[assignment]
        after = _short(told)
        node.value = value
        yield _Site(node.lineno, before, after, _set(node, "value", other))


def _texts(value: str, parent: ast.AST, words: bool) -> list[object]:
    if isinstance(parent, ast.Call) and ast.unparse(parent.func).endswith("order_by"):
        return [value[1:]] if value.startswith("-") else [f"-{value}"]
    if words and value.strip():
        return [value + "~"]
    return [value + "~"] if CODE.fullmatch(value) else []


def _calls(node: ast.Call) -> Iterator[_Site]:
    if isinstance(node.func, ast.Name) and node.func.id in CALLS:
        yield _swap(node, node.func, "id", CALLS[node.func.id])
    if not isinstance(node.func, ast.Attribute):
        yield from _fields_left_out(node)
        return
    if node.func.attr in METHODS and (node.func.attr != "first" or not node.args):
        yield _swap(node, node.func, "attr", METHODS[node.func.attr])
    if node.func.attr in QUERIES:
        for k in range(len(node.keywords)):
            rest = node.keywords[:k] + node.keywords[k + 1 :]
            condition = f"{node.func.attr} by {_short(node.keywords[k])}"
            yield _Site(node.lineno, condition, "(left out)", _set(node, "keywords", rest))
    yield from _fields_left_out(node)


def _fields_left_out(node: ast.Call) -> Iterator[_Site]:
    """Each column of a saving that names them, left out in turn."""
    for keyword in node.keywords:
        if keyword.arg == "update_fields" and isinstance(keyword.value, ast.List):
            columns = keyword.value
            for k in range(len(columns.elts)):
                yield _swap(node, columns, "elts", columns.elts[:k] + columns.elts[k + 1 :])
