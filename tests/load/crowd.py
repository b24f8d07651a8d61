"""Everybody of every club, each at their own pace: tablets that log runs and ask for news, boards that refresh, coaches who look round."""

from __future__ import annotations

import asyncio
import datetime as dt
import gzip
import json
import random
import re
import time
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from tests.load.wire import NoAnswerError, Wire

TOKEN = "t" * 32
#: Between two runs of a team: setting up, driving, measuring, talking. Common practice, no source.
RUN_EVERY_S = (60.0, 120.0)
#: The board's and the coach's page (``hx-trigger``).
BOARD_EVERY_S = 2.0
#: Between two pages that a coach opens, and between two courses that one asks for.
PAGE_EVERY_S, COURSE_EVERY_S = (10.0, 30.0), (40.0, 80.0)
#: Tablets are taken in hand one after the other before anybody is looked at: so many open their mission in a second.
ARRIVE_A_SECOND = 15


@dataclass(frozen=True)
class Pace:
    """``hurry``: so many times as quick as people are, for a short trial. ``boards`` stand in each club."""

    news_every_s: float
    boards: int = 1
    hurry: float = 1.0

    def between(self, low_high: tuple[float, float], chance: random.Random) -> float:
        return chance.uniform(*low_high) / self.hurry


@dataclass
class Seen:
    """What everybody together was answered: seconds by kind of request, and what went wrong."""

    took_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    wrong: list[str] = field(default_factory=list)
    #: Key of each run that the site said it has kept.
    kept: set[str] = field(default_factory=set)
    sent: set[str] = field(default_factory=set)
    jobs: list[int] = field(default_factory=list)
    unchanged: int = 0


@dataclass
class Browser:
    """Somebody signed in."""

    wire: Wire
    seen: Seen
    session: str
    prefix: str

    async def ask(self, kind: str, method: str, path: str, body: bytes = b"", **more: str) -> Any:
        """The answer, or None when there was none that is any good."""
        cookies = f"{self.prefix}sessionid={self.session}; {self.prefix}csrftoken={TOKEN}"
        begun = time.perf_counter()
        try:
            answer = await self.wire.ask(method, path, body, Cookie=cookies, **{"X-CSRFToken": TOKEN}, **more)
        except NoAnswerError as error:
            self.seen.wrong.append(f"{kind}: no answer ({error})")
            return None
        self.seen.took_s[kind].append(time.perf_counter() - begun)
        if answer.status not in (200, 302, 304):
            self.seen.wrong.append(f"{kind}: {answer.status}")
            return None
        return answer

    async def poll(self, kind: str, path: str, tag: str) -> str:
        """The tag of what is shown now; unchanged ones are counted under a kind of their own."""
        held = {"If-None-Match": tag} if tag else {}
        before = len(self.seen.took_s[kind])
        answer = await self.ask(kind, "GET", path, **{"HX-Request": "true"}, **held)
        if answer is None:
            return tag
        if answer.status == 304:
            self.seen.took_s[f"{kind}, unchanged"].append(self.seen.took_s[kind].pop(before))
        return str(answer.headers.get("etag", ""))


class Crowd:
    """``people``: of each club its coach and tablets (``benchmarks.working_club.signed_in``)."""

    def __init__(self, house: Any, people: list[dict[str, Any]], pace: Pace, seed: int = 20261127) -> None:
        self.pace, self.people, self.seed = pace, people, seed
        self.seen = Seen()
        self.wire = Wire(house.port, {"Host": f"127.0.0.1:{house.port}", "Accept-Encoding": "gzip"} | house.headers)
        self.prefix = house.cookie_prefix
        #: By its session, what each tablet's page shows of the news.
        self.tags: dict[str, str] = {}

    async def come_in(self) -> None:
        """Every tablet is taken in hand and opens its mission, one after the other."""
        tablets = [tablet for club in self.people for tablet in club["teams"]]

        async def open_one(number: int, tablet: dict[str, Any]) -> None:
            await asyncio.sleep(number / ARRIVE_A_SECOND)
            await self._open_mission(self._browser(tablet["session"]), tablet["tier"])

        await asyncio.gather(*(open_one(number, tablet) for number, tablet in enumerate(tablets)))
        self.wire.close()

    async def be_there(self, seconds: float) -> None:
        self.ends = time.monotonic() + seconds
        work = []
        for number, club in enumerate(self.people):
            chance = random.Random(f"{self.seed} {number}")
            work += [self._board(club, random.Random(chance.random())) for _ in range(self.pace.boards)]
            work.append(self._coach(club, random.Random(chance.random())))
            for tablet in club["teams"]:
                work.append(self._logs(tablet, random.Random(chance.random())))
                work.append(self._news(tablet, random.Random(chance.random())))
        await asyncio.gather(*work)
        self.wire.close()

    def _browser(self, session: str) -> Browser:
        return Browser(self.wire, self.seen, session, self.prefix)

    async def _rest(self, seconds: float) -> bool:
        """Whether there is still time after it."""
        await asyncio.sleep(max(0.0, min(seconds, self.ends - time.monotonic())))
        return time.monotonic() < self.ends

    async def _logs(self, tablet: dict[str, Any], chance: random.Random) -> None:
        """Opens “Log a run”, sends the run until it is answered for, looks at the mission again."""
        mine = self._browser(tablet["session"])
        tier, first = tablet["tier"], chance.uniform(0, RUN_EVERY_S[1]) / self.pace.hurry
        while await self._rest(first or self.pace.between(RUN_EVERY_S, chance)):
            first = 0.0
            await mine.ask("tablet: “Log a run”", "GET", f"/team/log/?tier={tier}")
            run = _run(tier, chance)
            self.seen.sent.add(run["uuid"])
            body = json.dumps({"team": tablet["team"], "now": run["made_at"], "items": [run]}).encode()
            while not await self._is_kept(mine, body, run["uuid"]):
                if not await self._rest(1.5):
                    return
            await self._open_mission(mine, tier)

    async def _open_mission(self, mine: Browser, tier: int) -> None:
        answer = await mine.ask("tablet: mission", "GET", f"/team/mission/?tier={tier}")
        if answer is not None:
            drawn = re.search(rb'data-tag="(\w+)"', _plain(answer))
            self.tags[mine.session] = f'"{drawn[1].decode()}"' if drawn else ""

    async def _is_kept(self, mine: Browser, body: bytes, key: str) -> bool:
        json_type = {"Content-Type": "application/json", "Accept": "application/json"}
        answer = await mine.ask("tablet: a run saved", "POST", "/team/runs/", body, **json_type)
        if answer is None:
            return False
        (reply,) = json.loads(_plain(answer))["replies"]
        if reply["status"] == 200:
            self.seen.kept.add(key)
        else:
            self.seen.wrong.append(f"a run was answered {reply['status']}: {reply['words']}")
        return bool(reply["status"] == 200)

    async def _news(self, tablet: dict[str, Any], chance: random.Random) -> None:
        mine = self._browser(tablet["session"])
        wait = chance.uniform(0, self.pace.news_every_s)
        while await self._rest(wait):
            wait, tag = self.pace.news_every_s, self.tags.get(mine.session, "")
            self.tags[mine.session] = await mine.poll("tablet: news", f"/team/news/?tier={tablet['tier']}", tag)

    async def _board(self, club: dict[str, Any], chance: random.Random) -> None:
        mine, tag = self._browser(club["coach"]), ""
        wait = chance.uniform(0, BOARD_EVERY_S)
        while await self._rest(wait):
            wait = BOARD_EVERY_S
            tag = await mine.poll("board", "/", tag)

    async def _coach(self, club: dict[str, Any], chance: random.Random) -> None:
        """Pages one after the other, and now and then a course."""
        mine = self._browser(club["coach"])
        course_at = time.monotonic() + self.pace.between((0.0, COURSE_EVERY_S[1]), chance)
        while await self._rest(self.pace.between(PAGE_EVERY_S, chance)):
            team = chance.choice(club["teams"])
            pages = {
                "evidence": f"/evidence/{team['team']}/{team['tier']}/",
                "Today": f"/session/{club['session']}/",
                "rota": f"/session/{club['session']}/rota/",
                "team": f"/teams/{team['team']}/",
                "mission": f"/missions/{club['mission']}/",
            }
            kind = chance.choice(list(pages))
            await mine.ask(f"coach: {kind}", "GET", pages[kind])
            if time.monotonic() >= course_at:
                course_at += self.pace.between(COURSE_EVERY_S, chance)
                await self._ask_for_course(mine, team["team"], chance.choice(club["tiers"]), chance)

    async def _ask_for_course(self, mine: Browser, team: int, tier: int, chance: random.Random) -> None:
        aim = chance.choice(["steadiest", "fastest", "simplest", "all"])
        body = f"aim={aim}&alternatives={chance.randint(1, 3)}".encode()
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        answer = await mine.ask(
            "coach: a course asked for", "POST", f"/teams/{team}/tiers/{tier}/course/", body, **form
        )
        if answer is None or answer.status != 302:
            self.seen.wrong += [] if answer is None else ["a course was not taken in"]
            return
        job = answer.headers["location"]
        self.seen.jobs.append(int(job.rstrip("/").split("/")[-1]))
        await mine.ask("coach: job", "GET", job)


def _run(tier: int, chance: random.Random) -> dict[str, Any]:
    clean = chance.random() < 0.6
    return {
        "do": "log", "uuid": str(UUID(int=chance.getrandbits(128), version=4)), "tier": tier,
        "made_at": dt.datetime.now(dt.UTC).isoformat(), "duration": f"{chance.uniform(30, 80):.1f}",
        "outcome_left_base": "yes", "outcome_done": "yes" if clean else "no", "outcome_home": "yes",
        "sideways": str(chance.randint(0, 40)), "side": chance.choice(["left", "right"]),
        "cause": "" if clean else "turned_too_far",
    }  # fmt: skip


def _plain(answer: Any) -> bytes:
    packed = answer.headers.get("content-encoding") == "gzip"
    return gzip.decompress(answer.body) if packed else bytes(answer.body)
