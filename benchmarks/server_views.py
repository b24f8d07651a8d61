"""What a request costs a server's process: processor time by view, on a club in the middle of its afternoon.

The whole of a request is measured, middleware and compression included, in a process with a server's settings, with
PostgreSQL and Redis of their own; what those two do themselves is not in it, nor what gunicorn does before and after. The time
is the processor's, so that other work on the machine changes it little.
"""

from __future__ import annotations

import cProfile
import functools
import json
import os
import pstats
import secrets
import subprocess
import sys
import uuid
from collections.abc import Callable
from typing import Any, NamedTuple

from benchmarks.figures import Figure, percentile
from benchmarks.server_queue import ROOT, own_server

TEAMS, MISSIONS, RUNS = 17, 3, 9_000
WARM, MEASURED, ROUNDS = 4, 20, 3
NAME = "club.example"
JSON_TYPE = "application/json"
#: Milliseconds of processor time, at most.
BARS = {
    "save": 15.0,
    "board_changed": 25.0,
    "board_unchanged": 3.0,
    "news_unchanged": 3.0,
    "evidence": 40.0,
    "cards": 40.0,
    "sign_in_cards": 40.0,
    "pictures": 40.0,
    "today": 40.0,
    "rota": 40.0,
    "mission": 40.0,
}
#: Measured beside them, with nothing to fall short of.
OTHERS = ("board", "wall", "team", "term", "family", "log", "tablet_mission", "tablet_log")


@functools.cache
def measured() -> dict[str, dict[str, float]]:
    with own_server() as (env, _):
        env = env | {
            "DJANGO_SETTINGS_MODULE": "config.settings.server",
            "HELMROOM_SECRET": secrets.token_urlsafe(50),
            "HELMROOM_HOSTS": NAME,
        }
        del env["NUMBA_CACHE_DIR"]  # what is compiled lies beside the sources
        collect = [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
        subprocess.run(collect, cwd=ROOT, env=env, check=True)
        command = [sys.executable, "-m", "benchmarks.server_views"]
        done = subprocess.run(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True, check=True)
    found: dict[str, dict[str, float]] = json.loads(done.stdout.splitlines()[-1])
    return found


def view(name: str) -> Figure:
    one = measured()[name]
    note = (
        f"median of {MEASURED} requests, best of {ROUNDS} rounds; p95 {one['p95_ms']:.1f} ms; {one['calls']:,.0f} calls, "
        f"{one['queries']:.0f} queries, {one['bytes'] / 1024:.0f} kB; {TEAMS} teams, {MISSIONS} missions, {RUNS:,} runs; load {os.getloadavg()[0]:.0f}"
    )
    return Figure(one["ms"], "ms of processor time", BARS.get(name), note)


FIGURES = {f"server.views_{name}": functools.partial(view, name) for name in (*BARS, *OTHERS)}


# What the child process does


def main() -> None:
    import django

    django.setup()
    print(json.dumps(measure()))


def measure() -> dict[str, dict[str, float]]:
    requests = asked(settled())
    found = {}
    for name, ask in requests.items():
        rounds = []
        for _ in range(ROUNDS):
            for _ in range(WARM):
                ask()
            rounds.append([ask() for _ in range(MEASURED)])
        best = min(([one.processor_s for one in each] for each in rounds), key=lambda each: percentile(each, 0.5))
        found[name] = {
            "ms": percentile(best, 0.5) * 1000,
            "p95_ms": percentile(best, 0.95) * 1000,
            **counted(ask)._asdict(),
            "bytes": len(ask().body),
        }
    return found


class Counted(NamedTuple):
    """What a slow machine does not change: queries, and functions called, of Python and of what it is made in."""

    queries: int
    calls: int


def counted(ask: Callable[[], Any]) -> Counted:
    """Of the last request that one call makes."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with cProfile.Profile() as calls:
        ask()
    with CaptureQueriesContext(connection) as queries:
        ask()
    before = getattr(ask, "before", Counted(0, 0))
    return Counted(len(queries) - before.queries, pstats.Stats(calls).total_calls - before.calls)  # type: ignore[attr-defined]


def settled() -> dict[str, Any]:
    """The club, and its people's sessions."""
    from django.utils import timezone

    from benchmarks.own_database import gather_statistics
    from benchmarks.working_club import keep_a_plan_each, signed_in, working_club
    from planning.preparing.kernels import compile_as_called

    compile_as_called()
    made = working_club(TEAMS, MISSIONS, RUNS, now=timezone.now())
    keep_a_plan_each(made, made.editions[1], timezone.now())
    gather_statistics()
    return signed_in(made)


def asked(here: dict[str, Any]) -> dict[str, Callable[[], Any]]:
    """Each view by its name, as a call that makes the request and hands back its answer."""
    from django.utils import timezone

    from benchmarks.plain_wsgi import Asker
    from config.wsgi import application

    coach = Asker(application, here["coach"], NAME, "__Host-")
    seats = [(one, Asker(application, one["session"], NAME, "__Host-")) for one in here["teams"]]
    part = {"HX_REQUEST": "true"}

    def good(answer: Any, status: int = 200) -> Any:
        assert answer.status == status, (answer.status, answer.headers, answer.body[:500])
        return answer

    def page(path: str, asker: Asker = coach) -> Callable[[], Any]:
        return lambda: good(asker.ask("GET", path))

    turn = iter(range(1_000_000))

    def save() -> Any:
        seat, tablet = seats[next(turn) % len(seats)]
        body = json.dumps({"team": seat["team"], "now": timezone.now().isoformat(), "items": [run_of(seat["tier"])]})
        answer = good(tablet.ask("POST", "/team/runs/", body.encode(), JSON_TYPE, ACCEPT=JSON_TYPE))
        assert json.loads(answer.body)["replies"][0]["status"] == 200, answer.body
        return answer

    def changed() -> Any:
        save()
        return good(coach.ask("GET", "/", **part))

    def unchanged(path: str, asker: Asker) -> Callable[[], Any]:
        def again() -> Any:
            answer = asker.ask("GET", path, IF_NONE_MATCH=tag[0], **part)
            if answer.status == 200:  # it changed: the first time, and when a slot of the rota begins
                tag[0] = answer.headers["ETag"]
                answer = asker.ask("GET", path, IF_NONE_MATCH=tag[0], **part)
            return good(answer, 304)

        tag = [""]
        return again

    changed.before = counted(save)  # type: ignore[attr-defined]
    seat, tablet = seats[0]
    session, cell = f"/session/{here['session']}/", f"{seat['team']}/{seat['tier']}"
    return {
        "save": save,
        "board_changed": changed,
        "board_unchanged": unchanged("/", coach),
        "news_unchanged": unchanged(f"/team/news/?tier={seat['tier']}", tablet),
        "evidence": page(f"/evidence/{cell}/"),
        "cards": page(f"/tiers/{here['tiers'][1]}/cards/"),
        "sign_in_cards": page("/teams/cards/"),
        "pictures": page(f"/term/{here['term']}/pictures/"),
        "today": page(session),
        "rota": page(f"{session}rota/"),
        "mission": page(f"/missions/{here['mission']}/"),
        "board": page("/"),
        "family": page("/family/", Asker(application, here["family"], NAME, "__Host-")),
        "log": page("/settings/log/"),
        "wall": page(f"{session}wall/"),
        "team": page(f"/teams/{seat['team']}/"),
        "term": page("/term/"),
        "tablet_mission": page("/team/mission/", tablet),
        "tablet_log": page("/team/log/", tablet),
    }


def run_of(tier: int) -> dict[str, Any]:
    """As a tablet sends one (``static/planning/team/log.js``)."""
    from django.utils import timezone

    return {
        "do": "log", "uuid": str(uuid.uuid4()), "tier": tier, "made_at": timezone.now().isoformat(), "duration": "38.2",
        "outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "no", "sideways": "4", "side": "left",
        "cause": "turned_too_far",
    }  # fmt: skip


if __name__ == "__main__":
    main()
