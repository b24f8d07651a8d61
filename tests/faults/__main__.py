"""``python -m tests.faults [PREFIX ...] [--write]``: the table of what becomes of runs, jobs and words; exit 1 when one falls short."""

from __future__ import annotations

import argparse
import importlib
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.test")
AIMS = ("steadiest", "fastest", "simplest", "all")


def questions(club: dict[str, Any]) -> Iterator[tuple[int, int, str, int]]:
    """Each a job of its own: team, tier, aim, alternatives."""
    teams = [one["team"] for one in club["teams"]]
    for aim, alternatives, tier, team in product(AIMS, (1, 2, 3), club["tiers"], teams):
        yield team, tier, aim, alternatives


def try_in_one_house(kind: Any, faults: list[Any], *, keep: bool) -> Iterator[Any]:
    """A row for each, up to the first that the house does not get over."""
    from tests.faults.fault import Row, try_fault

    folder = Path(tempfile.mkdtemp(prefix=f"helmroom-faults-{kind.name}-"))
    folder.chmod(0o711)  # PostgreSQL's own user passes through
    house = kind(folder)
    try:
        ask = questions(house.club)
        for one in list(faults):
            try:
                yield try_fault(one, house, ask)
            except AssertionError as error:
                yield Row(one, wrong=[f"not well by itself: {error}"])
                return
    finally:
        house.close()
        if keep:
            print(f"kept: {folder}")
        else:
            shutil.rmtree(folder, ignore_errors=True)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument(
        "faults", nargs="*", help="groups or names, such as queue or killed.web_killed; all when none is given"
    )
    parser.add_argument("--write", action="store_true", help="write what was tried into docs/faults.md")
    parser.add_argument("--keep", action="store_true", help="leave the houses' folders with their logs")
    asked = parser.parse_args()

    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # the houses are taken down whoever ends it
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell starts what runs behind it deaf to Ctrl-C

    from tests.faults.fault import FAULTS, GROUPS, Row
    from tests.faults.laptop import Laptop
    from tests.faults.report import said, write
    from tests.faults.server import Server, why_no_server

    for group in GROUPS:
        importlib.import_module(f"tests.faults.{group}")
    chosen = [one for one in FAULTS if not asked.faults or any(one.name.startswith(name) for name in asked.faults)]
    rows: dict[str, Row] = {}
    began = os.getloadavg()[0]
    for kind, why in ((Server, why_no_server()), (Laptop, "")):
        own = [one for one in chosen if one.house == kind.name]
        if why:
            rows |= {one.name: Row(one, not_run=why) for one in own}
            continue
        while own:
            for row in try_in_one_house(kind, own, keep=asked.keep):
                print(said(row), flush=True)
                rows[row.fault.name] = row
                own.remove(row.fault)
    table = [rows[one.name] for one in chosen]
    if asked.write:
        write(table, (began, os.getloadavg()[0]), [one.name for one in FAULTS] if len(table) < len(FAULTS) else ())
    wrong, left_out = [row for row in table if row.wrong], [row for row in table if row.not_run]
    print(f"{len(table) - len(left_out)} faults tried, {len(wrong)} fell short, {len(left_out)} not run")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
