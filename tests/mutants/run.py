"""The run: the tests are collected and tried once in this process, then each change is tried in a fork of it."""

from __future__ import annotations

import ast
import importlib
import os
import resource
import shutil
import signal
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from tests.mutants.changes import Change, first_line
from tests.mutants.graft import graft
from tests.mutants.report import Result
from tests.mutants.targets import ROOT, Target

#: Tests that cost more processor seconds are not run on each change: thousands of simulated runs, a whole plan.
DEAR_S = 2.0
#: Processor seconds that a change may take: a loop that never ends is noticed too.
SPARE_S, TIMES = 10.0, 5.0
#: A process that waits for something that never comes is ended after this many seconds.
WAITS_S = 300.0


class MutantRun:
    """A pytest plugin in place of the plain run of the tests."""

    def __init__(self, chosen: dict[Target, list[Change]], keep: Callable[[Result], None]) -> None:
        self.chosen, self.keep = chosen, keep
        self.results: list[Result] = []
        self.broken: list[str] = []
        self.set_aside: dict[str, str] = {}
        self._touched: dict[str, set[tuple[str, int]]] = {}
        self._cost: dict[str, float] = {}

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        if session.testsfailed:
            return True
        with _quiet(session):
            kept = self._try_unchanged(session)
            for target, changes in self.chosen.items():
                self.results.append(self._try(session, target, changes, kept))
                self.keep(self.results[-1])
        return True

    @pytest.hookimpl
    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.broken.append(report.longreprtext[-400:])

    def _try_unchanged(self, session: pytest.Session) -> Kept:
        """Run every test once: what it costs and which functions it calls. What that loads, each fork has."""
        first = next((item for item in session.items if "cast" in getattr(item, "fixturenames", ())), session.items[0])
        _run(first, session)  # makes the test database
        kept = Kept()
        watched = {str(ROOT / target.path) for target in self.chosen}
        for item, following in zip(session.items, [*session.items[1:], session], strict=True):
            before = time.process_time()
            with _watching(watched) as touched:
                _run(item, following)
            if self.broken:
                self.set_aside[item.nodeid] = self.broken.pop()
                self.broken.clear()
            self._touched[item.nodeid], self._cost[item.nodeid] = touched, time.process_time() - before
        kept.restore()
        _say(f"{len(session.items)} tests run unchanged in {sum(self._cost.values()):.0f} s.")
        return kept

    def _try(self, session: pytest.Session, target: Target, changes: list[Change], kept: Kept) -> Result:
        own = [item for item in session.items if _is_of(item, target) and item.nodeid not in self.set_aside]
        module = importlib.import_module(target.module)
        found, before = Result(target.path, len(changes)), resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
        spans = _functions(target.source)
        for change in changes:
            items = self._reaching(own, target, change, spans)
            if not items or self._survives(module, target, change, items, kept):
                found.survivors.append(change.name)
        found.seconds = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
        _say(f"{target.path}: {found.made - len(found.survivors)} of {found.made}, {found.seconds:.0f} s")
        for name in found.survivors:
            _say(f"    {name}")
        return found

    def _reaching(self, own: list[Any], target: Target, change: Change, spans: list[Span]) -> list[Any]:
        """The tests that call the changed function, quickest first; all of them for what is no function."""
        span = next((span for span in spans if span.first <= change.line <= span.last), None)
        if span is not None and not span.cached:
            path = str(ROOT / target.path)
            own = [
                item
                for item in own
                if any(p == path and span.first <= line <= span.last for p, line in self._touched[item.nodeid])
            ]
        cheap = [item for item in own if self._cost[item.nodeid] <= DEAR_S]
        return sorted(cheap, key=lambda item: self._cost[item.nodeid])

    def _survives(self, module: Any, target: Target, change: Change, items: list[Any], kept: Kept) -> bool:
        limit_s = SPARE_S + TIMES * sum(self._cost[item.nodeid] for item in items)
        kept.restore()
        pid = os.fork()
        if pid == 0:
            try:
                resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
                graft(module, target.source, change, words=target.words)
                self.broken.clear()
                for item, following in zip(items, [*items[1:], items[0].session], strict=True):
                    _run(item, following)
                    if self.broken:
                        os._exit(1)
                os._exit(0)
            except BaseException as error:
                _say(f"    {change.name} ended the tests: {error!r}")
                os._exit(1)
        return _outcome(pid) == 0


@dataclass
class Span:
    """The lines of a function or method; ``cached`` ones are called by the first test alone."""

    first: int
    last: int
    cached: bool


class Kept:
    """The test database as it was made; each change starts from it."""

    def __init__(self) -> None:
        from django.db import connections

        connections.close_all()
        named = Path(str(connections["default"].settings_dict["NAME"]))
        self.path = named if connections["default"].vendor == "sqlite" and named.is_file() else None
        self.copy = named.with_name("mutants.sqlite3")
        if self.path is not None:
            shutil.copy(self.path, self.copy)

    def restore(self) -> None:
        from django.db import connections

        connections.close_all()
        if self.path is not None:
            for end in ("-wal", "-shm"):
                self.path.with_name(self.path.name + end).unlink(missing_ok=True)
            shutil.copy(self.copy, self.path)


def _run(item: Any, following: Any) -> None:
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)


def _is_of(item: Any, target: Target) -> bool:
    path = str(Path(item.path).relative_to(ROOT))
    return any(path == one or path.startswith(f"{one}/") for one in target.tests)


def _outcome(pid: int) -> int:
    """The exit code of a fork; one that neither ends nor works is ended."""
    until, pause = time.monotonic() + WAITS_S, 0.002
    while time.monotonic() < until:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(pause)
        pause = min(pause * 1.5, 0.05)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return -signal.SIGKILL


def _functions(source: str) -> list[Span]:
    tree = ast.parse(source)
    defs = [node for top in tree.body for node in ([top] if isinstance(top, ast.FunctionDef) else _methods(top))]
    return [
        Span(first_line(node), node.end_lineno or 0, any("cache" in ast.unparse(one) for one in node.decorator_list))
        for node in defs
    ]


def _methods(top: ast.stmt) -> list[ast.FunctionDef]:
    return [node for node in top.body if isinstance(node, ast.FunctionDef)] if isinstance(top, ast.ClassDef) else []


class _watching:
    """Notes which functions of some files are called, in every thread."""

    def __init__(self, paths: set[str]) -> None:
        self.paths, self.touched = paths, set[tuple[str, int]]()

    def __enter__(self) -> set[tuple[str, int]]:
        threading.settrace(self._note)
        sys.settrace(self._note)
        return self.touched

    def __exit__(self, *_: object) -> None:
        sys.settrace(None)
        threading.settrace(None)  # type: ignore[arg-type]

    def _note(self, frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code.co_filename in self.paths:
            self.touched.add((frame.f_code.co_filename, frame.f_code.co_firstlineno))


class _quiet:
    """Keeps pytest's own dots and failures to itself; ``_say`` still speaks."""

    def __init__(self, session: pytest.Session) -> None:
        self.reporter = session.config.pluginmanager.getplugin("terminalreporter")

    def __enter__(self) -> None:
        self.null = Path(os.devnull).open("w")
        self.file, self.reporter._tw._file = self.reporter._tw._file, self.null
        global _spoken
        _spoken = self.file

    def __exit__(self, *_: object) -> None:
        self.reporter._tw._file = self.file
        self.null.close()


_spoken: Any = sys.stdout


def _say(words: str) -> None:
    print(words, file=_spoken, flush=True)


def paths_of(targets: Iterable[Target]) -> Iterator[str]:
    """The test files to collect, each once."""
    seen: defaultdict[str, None] = defaultdict()
    for target in targets:
        for one in target.tests:
            seen.setdefault(one)
    yield from (one for one in seen if not any(one != other and one.startswith(f"{other}/") for other in seen))
