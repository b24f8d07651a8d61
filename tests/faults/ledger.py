"""Counted by row: what was told as kept against what stands, and what was asked for against what came of it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from tests.faults.house import House
from tests.faults.people import People, Tablet
from tests.faults.stand_in import KEPT


@dataclass
class Count:
    """``runs``: told "kept" by the server. ``lost``: of those, without a row. ``doubled``: rows beyond one a key.

    ``evidence_off``: runs by which the teams' running evidence differs from their rows. ``not_once``: jobs that are done and
    whose effect is there more or less often than once, or that failed and left one.
    """

    runs: int = 0
    lost: int = 0
    doubled: int = 0
    evidence_off: int = 0
    jobs: int = 0
    jobs_lost: int = 0
    not_once: int = 0
    unfinished: int = 0

    def wrong(self) -> list[str]:
        named = {"runs lost": self.lost, "runs doubled": self.doubled, "jobs lost": self.jobs_lost}
        named["runs by which evidence is off"] = self.evidence_off
        named["jobs with an effect other than once"] = self.not_once
        return [f"{number} {name}" for name, number in named.items() if number]


def count(house: House, people: People, to_fail: Mapping[int, str]) -> Count:
    """``to_fail``: jobs that are meant to fail, and the code that says so."""
    made = Count(runs=sum(len(tablet.told_kept) for tablet in people.tablets), jobs=len(people.jobs))
    for tablet in people.tablets:
        rows = house.rows(f"select uuid from missions_attempt where team_id = {tablet.team}")
        kept = Counter(str(row[0]).replace("-", "") for row in rows)
        ever = {key.replace("-", "") for key in tablet.told_kept}
        made.lost += len(ever - set(kept))
        made.doubled += sum(number - 1 for number in kept.values())
        made.evidence_off += abs(_runs_of_evidence(house, tablet) - len(rows))
    if not people.jobs:
        return made
    wanted = ", ".join(str(pk) for pk in set(people.jobs))
    states = {
        row[0]: row[1:] for row in house.rows(f"select id, state, error_code from planning_job where id in ({wanted})")
    }
    effects = Counter(
        int(row[0].split(":")[1])
        for row in house.rows(f"select subject from classroom_auditentry where verb = '{KEPT}'")
    )
    for pk in set(people.jobs):
        state, code = states.get(pk, ("gone", ""))
        made.unfinished += state in ("waiting", "running")
        meant = to_fail.get(pk)
        made.jobs_lost += state != "done" if meant is None else (state, code) != ("failed", meant)
        made.not_once += effects[pk] != (meant is None)
    return made


def _runs_of_evidence(house: House, tablet: Tablet) -> int:
    where = f"team_id = {tablet.team} and tier_id = {tablet.tier}"
    (kept,) = house.rows(f"select evidence from missions_progress where {where}")[0]
    return int((json.loads(kept) if isinstance(kept, str) else kept)["runs"])
