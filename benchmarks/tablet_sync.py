"""Forty tablets on one laptop: what saving a run takes when each saves one a second, and what polling takes beside it.

Everything goes over HTTP to a real server process on SQLite with full syncing; the load comes from this process on the
same machine, so that the figures include what it takes away from the server. Lateness of the load itself is not counted.
"""

from __future__ import annotations

import datetime as dt
import functools
import http.client
import json
import threading
import time
from typing import Any
from uuid import uuid4

from benchmarks.figures import Figure, percentile
from benchmarks.tablet_server import rows, tablet_site

TABLETS, BOARDS = 40, 3
SECONDS, ROUNDS = 10, 3
TOKEN = "t" * 32


class Caller:
    """One browser: a kept-open connection with a session."""

    def __init__(self, port: int, session: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        self.tag = ""
        self.headers = {"Cookie": f"sessionid={session}; csrftoken={TOKEN}", "X-CSRFToken": TOKEN}

    def ask(self, method: str, path: str, body: str | None = None, **more: str) -> tuple[int, bytes, Any, float]:
        begun = time.perf_counter()
        self.connection.request(method, path, body, self.headers | more)
        response = self.connection.getresponse()
        content = response.read()
        return response.status, content, response.headers, time.perf_counter() - begun


def run_of(team: dict[str, Any]) -> dict[str, Any]:
    now = dt.datetime.now(dt.UTC)
    answers = {"outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "no"}
    return {
        "do": "log",
        "uuid": str(uuid4()),
        "tier": team["tier"],
        "made_at": now.isoformat(),
        "duration": "38.2",
        "sideways": "4",
        "side": "left",
        "cause": "turned_too_far",
    } | answers


def every(seconds: float, first: float, until: float, work: Any) -> None:
    """At a fixed beat; a late answer does not put the next beats off."""
    due = first
    while due < until:
        time.sleep(max(0.0, due - time.perf_counter()))
        work()
        due += seconds


@functools.cache
def measure() -> dict[str, Any]:
    """Rounds of saving and of polling; of each the one with the best p95, since others may use the machine too."""
    with tablet_site(TABLETS) as site:
        warm_up(site)
        before = rows(site, "missions_attempt")
        rounds = [save_together(site) for _ in range(ROUNDS)]
        kept = rows(site, "missions_attempt") - before
        quiet = min((poll_quietly(site) for _ in range(ROUNDS)), key=lambda took: percentile(took, 0.95))
    best = min(rounds, key=lambda one: percentile(one["saved"], 0.95))
    answered = sum(len(one["saved"]) for one in rounds)
    refused = [reply for one in rounds for reply in one["refused"]]
    return best | {"answered": answered, "all_refused": refused, "kept": kept, "quiet": quiet}


def save_together(site: dict[str, Any]) -> dict[str, Any]:
    saved: list[float] = []
    polled: list[float] = []
    refused: list[Any] = []

    def board(first: float, until: float) -> None:
        caller = Caller(site["port"], site["coach"])
        every(2.0, first, until, lambda: polled.append(poll_board(caller, refused)))

    together(
        [lambda f, u, t=team: save_runs(site, t, saved, refused, f, u) for team in site["teams"]],  # type: ignore[misc]
        [board] * BOARDS,
    )
    return {"saved": saved, "polled": polled, "refused": refused}


def save_runs(
    site: dict[str, Any], team: dict[str, Any], saved: list[float], refused: list[Any], first: float, until: float
) -> None:
    """One tablet that saves a run a second; how long each took, and what was answered otherwise than with kept."""
    caller = Caller(site["port"], team["session"])
    json_type = {"Content-Type": "application/json"}

    def save() -> None:
        body = json.dumps({"team": team["team"], "items": [run_of(team)]})
        status, content, _, took = caller.ask("POST", "/team/runs/", body, **json_type)
        reply = json.loads(content)["replies"][0] if status == 200 else {"status": status}
        if reply["status"] == 200:
            saved.append(took)
        else:
            refused.append(reply)

    every(1.0, first, until, save)


def poll_quietly(site: dict[str, Any]) -> list[float]:
    """Forty tablets asking whether the server is there and three boards asking for news, every two seconds."""
    took: list[float] = []

    def tablet(team: dict[str, Any], first: float, until: float) -> None:
        caller = Caller(site["port"], team["session"])
        body = json.dumps({"team": team["team"], "items": []})
        json_type = {"Content-Type": "application/json"}
        every(2.0, first, until, lambda: took.append(caller.ask("POST", "/team/runs/", body, **json_type)[3]))

    def board(first: float, until: float) -> None:
        caller = Caller(site["port"], site["coach"])
        poll_board(caller, [])
        every(2.0, first, until, lambda: took.append(poll_board(caller, [])))

    together(
        [lambda f, u, t=team: tablet(t, f, u) for team in site["teams"]],  # type: ignore[misc]
        [board] * BOARDS,
    )
    return took


def poll_board(caller: Caller, refused: list[Any]) -> float:
    status, _, headers, took = caller.ask("GET", "/", **{"HX-Request": "true", "If-None-Match": caller.tag})
    caller.tag = headers.get("ETag", "")
    if status not in (200, 304):
        refused.append(status)
    return took


def together(tablets: list[Any], boards: list[Any]) -> None:
    """Everybody at once for a round, their beats spread evenly."""
    begun = time.perf_counter() + 0.5
    until = begun + SECONDS
    work = [threading.Thread(target=one, args=(begun + i / len(tablets), until)) for i, one in enumerate(tablets)]
    work += [threading.Thread(target=one, args=(begun + i / len(boards), until)) for i, one in enumerate(boards)]
    for thread in work:
        thread.start()
    for thread in work:
        thread.join()


def warm_up(site: dict[str, Any]) -> None:
    for team in site["teams"][:8]:
        caller = Caller(site["port"], team["session"])
        body = json.dumps({"team": team["team"], "items": [run_of(team)]})
        caller.ask("POST", "/team/runs/", body, **{"Content-Type": "application/json"})
    Caller(site["port"], site["coach"]).ask("GET", "/")


def saving() -> Figure:
    found = measure()
    note = (
        f"p95 over {len(found['saved'])} saves, the best of {ROUNDS} rounds of {SECONDS} s; {TABLETS} tablets saving one a "
        f"second while {BOARDS} boards poll; SQLite, full syncing, load from the same machine; "
        f"median {percentile(found['saved'], 0.5):.3f} s"
    )
    return Figure(percentile(found["saved"], 0.95), "s", 0.1, note)


def lost() -> Figure:
    found = measure()
    wrong = len(found["all_refused"]) + abs(found["kept"] - found["answered"])
    note = f"saves refused, or rows unlike answers: {found['answered']} answered “kept”, {found['kept']} rows"
    return Figure(float(wrong), "runs", 0.0, note)


def polling() -> Figure:
    quiet = measure()["quiet"]
    note = (
        f"p95 over {len(quiet)} polls, the best of {ROUNDS} rounds of {SECONDS} s, every 2 s of {TABLETS} tablets and {BOARDS} boards; "
        f"median {percentile(quiet, 0.5):.4f} s"
    )
    return Figure(percentile(quiet, 0.95), "s", 0.05, note)


def boards_beside() -> Figure:
    found = measure()["polled"]
    note = f"p95 over {len(found)} polls of {BOARDS} boards while {TABLETS} tablets save, so that each has news to draw"
    return Figure(percentile(found, 0.95), "s", None, note)


FIGURES = {
    "tablet.save_p95": saving,
    "tablet.save_lost": lost,
    "tablet.poll_p95": polling,
    "tablet.board_poll_while_saving_p95": boards_beside,
}
