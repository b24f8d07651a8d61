"""``python -m tests.load [--tablets N] [--clubs N] [--seconds N] [--laptop]``; exit 1 when a run is lost, doubled or anything goes wrong."""

from __future__ import annotations

import argparse
import asyncio
import os
import shutil
import signal
import sys
import tempfile
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.test")
#: 95 of 100 answers come within it, on a machine that does nothing else.
MOST_S = 0.5
#: How often a tablet asks for news (HELMROOM_NEWS_EVERY_S).
NEWS_S = {"server": 10.0, "laptop": 2.0}


def loaded(*, laptop: bool, tablets: int, clubs: int, boards: int, seconds: float, hurry: float, folder: Path) -> Any:
    """A house put up, loaded, counted and taken down; what was seen."""
    from tests.load.crowd import Crowd, Pace
    from tests.load.house import LoadedLaptop, LoadedServer
    from tests.load.report import Cost, counted
    from tests.patience import until

    kind, name = (LoadedLaptop, "laptop") if laptop else (LoadedServer, "server")
    house = kind(folder, tablets, clubs)
    try:
        pace = Pace(NEWS_S[name] / hurry, boards, hurry)
        warm, crowd = Crowd(house, house.club, pace, seed=1), Crowd(house, house.club, pace)
        until(lambda: _answers(house), "the site")
        asyncio.run(warm.be_there(min(10.0, seconds)))  # each process loads its templates once
        asyncio.run(warm.come_in())
        crowd.tags, crowd.seen.wrong = warm.tags, list(warm.seen.wrong)
        load, before = os.getloadavg()[0], Cost.now(house)
        asyncio.run(crowd.be_there(seconds))
        after = Cost.now(house)
        jobs = set(crowd.seen.jobs)
        until(lambda: _all_over(house, jobs), "the jobs to be over")
        crowd.seen.sent |= warm.seen.sent
        crowd.seen.kept |= warm.seen.kept
        title = f"{tablets} tablets of {clubs} clubs, {boards} boards each, on a {name}"
        report = counted(house, crowd, title, seconds, before, after)
        report.load = (load, os.getloadavg()[0])
        return report
    finally:
        house.close()


def _answers(house: Any) -> bool:
    try:
        return bool(house.figures())
    except OSError:
        return False


def _all_over(house: Any, jobs: set[int]) -> bool:
    if not jobs:
        return True
    wanted = ", ".join(map(str, jobs))
    return not house.rows(
        f"select 1 from planning_job where id in ({wanted}) and state in ('waiting', 'running') limit 1"
    )


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.load", description=__doc__)
    parser.add_argument("--laptop", action="store_true", help="a laptop with SQLite instead of a server")
    parser.add_argument("--tablets", type=int)
    parser.add_argument("--clubs", type=int)
    parser.add_argument("--boards", type=int, help="in each club")
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--hurry", type=float, default=1.0, help="people are so many times as quick as usual")
    asked = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # the house is taken down whoever ends it
    signal.signal(signal.SIGINT, signal.default_int_handler)

    from tests.faults.server import why_no_server
    from tests.load.report import told

    if not asked.laptop and (why := why_no_server()):
        parser.error(why)
    usual = (40, 1, 3) if asked.laptop else (1000, 60, 1)
    tablets, clubs, boards = (
        given or usually for given, usually in zip((asked.tablets, asked.clubs, asked.boards), usual, strict=True)
    )
    folder = Path(tempfile.mkdtemp(prefix="helmroom-load-"))
    folder.chmod(0o711)  # PostgreSQL's own user passes through
    try:
        report = loaded(
            laptop=asked.laptop, tablets=tablets, clubs=min(clubs, tablets), boards=boards, seconds=asked.seconds,
            hurry=asked.hurry, folder=folder,
        )  # fmt: skip
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    print(told(report, MOST_S))
    return 1 if report.falls_short else 0


if __name__ == "__main__":
    sys.exit(main())
