"""Tablets that log runs and send them until each is answered, and a coach who looks at pages and asks for courses."""

from __future__ import annotations

import datetime as dt
import html
import http.client
import itertools
import json
import os
import re
import threading
import time
import urllib.parse
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4

from tests.faults.house import House
from tests.patience import until

TOKEN = "t" * 32
TABLETS = 3
#: A run each so often, a tablet.
RUN_EVERY_S = 0.6
#: Between two tries of a tablet; the real one waits longer, up to ten minutes.
AGAIN_S = 0.7
LOOK_EVERY_S = 0.4
#: As a tablet (static/site/sender.js), times as much longer as everything takes on a machine that is busy already.
PATIENCE_S = 20.0 * max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1))


@dataclass(frozen=True)
class Seen:
    """What somebody was answered. ``status`` 0: nobody answered. ``words``: a heading and a sentence, or words in JSON."""

    who: str
    status: int
    words: str
    took_s: float
    at: float

    @property
    def is_bare(self) -> bool:
        """Something went wrong, and the answer does not say what."""
        return self.status >= 400 and not self.words


@dataclass
class Browser:
    """Somebody with a session. Each request on a connection of its own, since one that has dropped is not what is looked at."""

    house: House
    who: str
    session: str
    seen: list[Seen]

    def ask(self, method: str, path: str, body: str = "", **more: str) -> tuple[int, str, Any]:
        prefix = self.house.cookie_prefix
        cookies = f"{prefix}sessionid={self.session}; {prefix}csrftoken={TOKEN}"
        headers = {"Cookie": cookies, "X-CSRFToken": TOKEN, "Connection": "close", **self.house.headers, **more}
        line = http.client.HTTPConnection("127.0.0.1", self.house.port, timeout=PATIENCE_S)
        status, text, got, began = 0, "", None, time.monotonic()
        try:
            line.request(method, path, body or None, headers)
            answer = line.getresponse()
            text, status, got = answer.read().decode(errors="replace"), answer.status, answer.headers
        except (OSError, http.client.HTTPException):
            pass
        finally:
            line.close()
        self.seen.append(Seen(self.who, status, words_of(text), time.monotonic() - began, began))
        return status, text, got


def words_of(text: str) -> str:
    """What a page or an answer to a tablet says first; empty when it says nothing in words."""
    if text.startswith("{"):
        try:
            return str(json.loads(text).get("words", ""))
        except ValueError:
            return ""
    title, sentence = re.search(r"<h1[^>]*>\s*([^<]+)", text), re.search(r"<p[^>]*>\s*([^<]{12,})", text)
    return html.unescape(title[1].strip()) if title and sentence else ""


@dataclass
class Tablet(Browser):
    """A team's: what it has logged waits here until the server has answered for it."""

    team: int = 0
    tier: int = 0
    waiting: dict[str, dict[str, Any]] = field(default_factory=dict)
    #: Told "kept": key of each run.
    told_kept: set[str] = field(default_factory=set)
    refused: list[Any] = field(default_factory=list)
    made: int = 0

    def log_run(self) -> None:
        run = {
            "do": "log", "uuid": str(uuid4()), "tier": self.tier, "made_at": dt.datetime.now(dt.UTC).isoformat(),
            "duration": "38.2", "outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "no",
            "sideways": "4", "side": "left", "cause": "turned_too_far",
        }  # fmt: skip
        self.waiting[run["uuid"]] = run
        self.made += 1

    def send(self) -> bool:
        """One batch; whether each of it was answered for."""
        batch = list(itertools.islice(self.waiting.values(), 40))
        body = {"team": self.team, "now": dt.datetime.now(dt.UTC).isoformat(), "items": batch}
        json_type = {"Content-Type": "application/json", "Accept": "application/json"}
        status, text, _ = self.ask("POST", "/team/runs/", json.dumps(body), **json_type)
        if status != 200:
            return False
        replies = json.loads(text)["replies"]
        for reply in replies:
            if reply["status"] == 200:
                self.told_kept.add(reply["uuid"])
            elif reply["status"] != 503:
                self.refused.append(reply)
            if reply["status"] != 503:
                self.waiting.pop(reply["uuid"], None)
        return all(reply["status"] != 503 for reply in replies)


class People:
    """Everybody of one fault, in threads, from :meth:`begin` to :meth:`go_home`."""

    def __init__(self, house: House, questions: Any) -> None:
        self.house, self.seen = house, []
        self.questions = questions
        club = house.club
        teams = club["teams"][:TABLETS]
        self.tablets = [
            Tablet(house, "tablet", one["session"], self.seen, team=one["team"], tier=one["tier"]) for one in teams
        ]
        self.coach = Browser(house, "coach", club["coach"], self.seen)
        #: Jobs that were answered for, by number.
        self.jobs: list[int] = []
        self._home = threading.Event()
        self._threads = [threading.Thread(target=self._use, args=[tablet], daemon=True) for tablet in self.tablets]
        self._threads.append(threading.Thread(target=self._look, daemon=True))

    def begin(self) -> None:
        for thread in self._threads:
            thread.start()
        until(lambda: all(tablet.told_kept for tablet in self.tablets), "a run of each tablet")

    def go_home(self) -> None:
        """No more runs; what waits on the tablets is sent by :meth:`send_the_rest`."""
        self._home.set()
        for thread in self._threads:
            thread.join(PATIENCE_S + 5)

    def send_the_rest(self) -> bool:
        """Whether nothing waits on any tablet."""
        for tablet in self.tablets:
            while tablet.waiting:
                if not tablet.send():
                    return False
        return True

    def ask(self, *, team: int | None = None, patiently: bool = True) -> int:
        """The coach asks for a course, again until it is answered; the job's number, 0 when it was not.

        Without ``team`` it is for any but the last, which is kept for what is special.
        """
        wanted = [team] if team else [one["team"] for one in self.house.club["teams"][:-1]]
        team_id, tier, aim, alternatives = next(one for one in self.questions if one[0] in wanted)
        path = f"/teams/{team_id}/tiers/{tier}/course/"
        body = urllib.parse.urlencode({"aim": aim, "alternatives": alternatives})
        form = {"Content-Type": "application/x-www-form-urlencoded"}

        def once() -> int:
            status, text, headers = self.coach.ask("POST", path, body, **form)
            assert status in (0, 302, 503), f"{status} {words_of(text)} {path}"
            return int(headers["Location"].rstrip("/").split("/")[-1]) if status == 302 else 0

        pk = until(once, "an answer to the coach") if patiently else once()
        if pk:
            self.jobs.append(pk)
        return pk

    def ask_many(self, count: int) -> list[int]:
        return [self.ask() for _ in range(count)]

    def sign_in(self) -> Seen:
        """The coach on another browser, by the form."""
        browser = Browser(self.house, "coach", "", self.seen)
        club = self.house.club
        body = urllib.parse.urlencode({"login": club["email"], "password": club["password"]})
        browser.ask("POST", "/account/sign-in/", body, **{"Content-Type": "application/x-www-form-urlencoded"})
        return self.seen[-1]

    def all_at_once(self) -> list[threading.Thread]:
        """Eight more requests, as of tablets that come into the network together."""

        def one_more(tablet: Tablet) -> None:
            tablet.log_run()
            tablet.send()

        threads = [threading.Thread(target=one_more, args=[self.tablets[i % TABLETS]], daemon=True) for i in range(8)]
        for thread in threads:
            thread.start()
        return threads

    def coach_is_well(self) -> bool:
        return self.coach.ask("GET", "/")[0] == 200

    def _use(self, tablet: Tablet) -> None:
        while not self._home.is_set():
            tablet.log_run()
            self._home.wait(RUN_EVERY_S if tablet.send() else AGAIN_S)

    def _look(self) -> None:
        while not self._home.is_set():
            self.coach.ask("GET", "/")
            if self.jobs:
                self.coach.ask("GET", f"/jobs/{self.jobs[-1]}/")
            self._home.wait(LOOK_EVERY_S)
