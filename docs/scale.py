"""``python -m docs.scale``: the arithmetic of docs/scale.md, for a million clubs or any other number. A test compares the page."""

from __future__ import annotations

import math
from dataclasses import dataclass

HOURS_A_MONTH = 730


@dataclass(frozen=True)
class Assumed:
    """What the arithmetic begins with. None of it was counted in real clubs; what was measured says by which command."""

    clubs: int = 1_000_000
    teams: int = 8  # a club
    sessions: int = 36  # a year
    hours: float = 1.5  # a session
    runs: int = 20  # a team and session
    years_kept: float = 400 / 365  # Club.retention_days
    on_at_once: float = 0.05  # share of clubs at the busiest moment of a week
    bytes_a_run: int = 800  # measured: pg_total_relation_size of 9,086 runs, PostgreSQL 15
    bytes_beside: float = 0.5  # all other tables, as a share of the runs'; under 0.4 in the same club
    news_every_s: float = 10.0  # HELMROOM_NEWS_EVERY_S
    board_every_s: float = 2.0  # one board a club
    pages_an_hour: int = 240  # of all coaches and tablets of a club
    save_ms: float = 15.0  # of processor time; these five are the bars of server.views
    poll_ms: float = 3.0
    board_ms: float = 25.0
    page_ms: float = 40.0
    database_share: float = 0.5  # processor time of PostgreSQL, as a share of the web processes'
    plans: int = 2  # courses asked for, a team and session
    plan_s: float = 2.0  # of processor time; foundation.course and docs/search.md
    busy: float = 0.5  # as much of a processor may be used at the busiest moment
    cores: int = 16  # of a machine
    clubs_a_database: int = 20_000  # one PostgreSQL with its two replicas, or one Citus node
    core_hour: float = 0.04  # price in a currency of your own
    gigabyte_month: float = 0.12


def figures(given: Assumed) -> dict[str, float]:
    """Everything that the page says, by the words that it says it with."""
    runs = given.clubs * given.teams * given.runs * given.sessions
    stored = runs * given.years_kept * given.bytes_a_run * (1 + given.bytes_beside)
    on = given.clubs * given.on_at_once
    session_s = given.hours * 3600
    saves = on * given.teams * given.runs / session_s
    news = on * given.teams / given.news_every_s
    boards = on / given.board_every_s
    changed = min(boards, saves)  # each run changes the one board of its club
    pages = on * given.pages_an_hour / 3600
    web_ms = (
        saves * given.save_ms
        + (news + boards - changed) * given.poll_ms
        + changed * given.board_ms
        + pages * given.page_ms
    )
    web = web_ms / 1000 / given.busy
    database = web * given.database_share
    work = on * given.teams * given.plans / session_s * given.plan_s / given.busy
    clusters = math.ceil(given.clubs / given.clubs_a_database)
    copies = 3  # one that is written to, and two replicas
    cores = web + work + database * copies
    # Web processes and workers come with the sessions; databases stay. At other hours a tenth is enough.
    core_hours = ((web + work) * 0.1 + database * copies) * HOURS_A_MONTH
    gigabytes = stored * copies / 1e9
    month = core_hours * given.core_hour + gigabytes * given.gigabyte_month
    return {
        "runs a year": runs,
        "runs kept at once": runs * given.years_kept,
        "gigabytes of one copy": stored / 1e9,
        "clubs on at the busiest moment": on,
        "tablets then": on * given.teams,
        "runs saved a second": saves,
        "tablets asking for news, a second": news,
        "boards asking, a second": boards,
        "of those changed": changed,
        "pages a second": pages,
        "requests a second": saves + news + boards + pages,
        "processors of web processes": web,
        "processors of workers": work,
        "processors of databases that are written to": database,
        "machines in all": math.ceil(cores / given.cores),
        "PostgreSQL clusters": clusters,
        "gigabytes a cluster": stored / 1e9 / clusters,
        "runs saved a second, a cluster": saves / clusters,
        "price a month": month,
        "price a club and year": 12 * month / given.clubs,
    }


def said(value: float) -> str:
    return f"{value:,.2f}" if value < 10 and value != int(value) else f"{value:,.0f}"


def table(sizes: tuple[int, ...] = (100, 10_000, 1_000_000)) -> str:
    """One column for each number of clubs."""
    columns = [figures(Assumed(clubs=size)) for size in sizes]
    lines = [f"| | {' | '.join(f'{size:,} clubs' for size in sizes)} |", f"|---|{'---|' * len(sizes)}"]
    lines += [f"| {name} | {' | '.join(said(one[name]) for one in columns)} |" for name in columns[0]]
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
