"""A changed source put into a module that runs: functions get the changed code in place, wherever they were imported."""

from __future__ import annotations

import ast
import sys
from types import FunctionType, ModuleType
from typing import Any

from tests.mutants.changes import Change, changed

OURS = ("motion", "classroom", "missions", "planning", "config", "tests")


def graft(module: ModuleType, source: str, change: Change, *, words: bool = False) -> None:
    """Make one change in a loaded module.

    The top statement that holds it is run again, and those after it that are worked out from what it names. Functions
    and classes stay the same objects with other insides; other values are named anew wherever they were imported.
    """
    tree, at = changed(source, change, words=words)
    names = _named(tree.body[at])
    again = [tree.body[at]]
    for top in tree.body[at + 1 :]:
        if _asked_for_at_once(top) & names:
            again.append(top)
            names |= _named(top)
    space = dict(vars(module))
    for top in again:
        exec(compile(ast.Module([top], []), module.__file__ or "", "exec"), space)
        for name in _named(top):
            _put(module, name, space)


def _named(top: ast.stmt) -> set[str]:
    if isinstance(top, ast.FunctionDef | ast.ClassDef):
        return {top.name}
    return {node.id for node in ast.walk(top) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)}


def _asked_for_at_once(node: ast.AST) -> set[str]:
    """Names that a statement looks up when it is run, not only later when what it defines is called."""
    if isinstance(node, ast.Import | ast.ImportFrom):
        return set()
    if isinstance(node, ast.Name):
        return {node.id}
    children = list(ast.iter_child_nodes(node))
    if isinstance(node, ast.FunctionDef):
        children = [*node.decorator_list, *node.args.defaults, *(one for one in node.args.kw_defaults if one)]
    elif isinstance(node, ast.Lambda):
        children = [*node.args.defaults, *(one for one in node.args.kw_defaults if one)]
    return {name for child in children for name in _asked_for_at_once(child)}


def _put(module: ModuleType, name: str, space: dict[str, Any]) -> None:
    old, new = vars(module)[name], space[name]
    if same_object_changed(old, new):
        space[name] = old
        return
    for other in list(sys.modules.values()):
        ours = getattr(other, "__name__", "").split(".")[0] in OURS
        if ours and vars(other).get(name) is old:
            setattr(other, name, new)


def same_object_changed(old: Any, new: Any) -> bool:
    """Give a function or a class the insides of another; False for what is neither."""
    if isinstance(old, type) and isinstance(new, type):
        _change_class(old, new)
        return True
    if isinstance(old, FunctionType) and isinstance(new, FunctionType):
        _change_function(old, new)
        return True
    for inner in ("__wrapped__", "fget", "func", "__func__"):
        if hasattr(old, inner) and isinstance(getattr(old, inner), FunctionType):
            _change_function(getattr(old, inner), getattr(new, inner))
            if hasattr(old, "cache_clear"):
                old.cache_clear()
            return True
    return False


def _change_function(old: FunctionType, new: FunctionType) -> None:
    _change_cells(old, new)
    if old.__code__.co_freevars != new.__code__.co_freevars:
        raise TypeError(f"{old.__qualname__} would look up other names around it")
    old.__code__, old.__defaults__, old.__kwdefaults__ = new.__code__, new.__defaults__, new.__kwdefaults__


def _change_cells(old: FunctionType, new: FunctionType) -> None:
    """What a decorated function holds of the plain one, or a generated one of its defaults."""
    for name, mine, other in zip(old.__code__.co_freevars, old.__closure__ or (), new.__closure__ or (), strict=True):
        if name == "__class__":
            continue
        value, fresh = mine.cell_contents, other.cell_contents
        if isinstance(value, FunctionType) and isinstance(fresh, FunctionType):
            _change_function(value, fresh)
        elif not isinstance(value, type):
            mine.cell_contents = fresh


def _change_class(old: type, new: type) -> None:
    for name, fresh in vars(new).items():
        value = vars(old).get(name)
        if name in ("__dict__", "__weakref__", "__module__", "__doc__", "__dataclass_fields__", "_abc_impl"):
            continue
        if isinstance(fresh, type) and fresh is not value:
            _change_class(value, fresh)  # type: ignore[arg-type]
        elif not same_object_changed(value, fresh) and type(fresh).__name__ != "member_descriptor" and fresh != value:
            setattr(old, name, fresh)
