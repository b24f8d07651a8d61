"""Plays a term: week by week the teams calibrate, plan, run and miss, with simulated robots, seeded.

Everything goes in through the same services that the pages use.
"""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace
from typing import Any

import numpy as np
from django.db import transaction

from classroom.models import Robot, Team
from classroom.robots.numbers import RobotNumbers, numbers_for
from classroom.robots.services.calibrate import record_calibration
from config.demo.measuring import measured_runs
from config.demo.people import Cast
from config.demo.story import Passed, Stint, TeamStory
from config.demo.ways import course_along
from missions.ladder.mission_file import missing_of, stored_target
from missions.models import Mission, MissionVersion, Tier, TierVersion
from missions.readiness.services.progress import open_tier, pass_tier
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from motion.chance.simulate import Manner, SimulatedRun, simulate_run
from motion.course.actions import Action
from motion.course.times import course_seconds
from motion.scene.contact import nose_of
from planning.courses.rules.typing import driving, typed
from planning.courses.scene_for import pose_of, scene_for
from planning.courses.services.save_revision import save_revision
from planning.models import Course

#: From the beginning of a session until what was measured in it is written down.
MEASURING = dt.timedelta(minutes=5)

Editions = dict[tuple[str, int], TierVersion]


@transaction.atomic
def make_missions(cast: Cast) -> Editions:
    """The club's missions, published before the term began."""
    editions: Editions = {}
    when = cast.club.created_at
    nose = nose_of(cast.story.build["travel_footprint"])
    for order, document in enumerate(cast.story.missions):
        mission = Mission.objects.create(club=cast.club, title=document["title"], order=order)
        fields = {k: v for k, v in document.items() if k not in ("format", "table", "target", "tiers")}
        version = MissionVersion.objects.create(
            mission=mission,
            number=1,
            published_at=when,
            edited_at=when,
            edited_by=cast.coach,
            target=stored_target(document["target"], nose),
            **(document["table"] | {"missing": missing_of(document)}),
            **fields,
        )
        for rung, content in enumerate(document["tiers"], start=1):
            about = dict(content)
            about["any_order"] = about.pop("order", "given") == "any"
            tier = Tier.objects.create(mission=mission, order=rung, kind=about.pop("kind"), name=content["name"])
            editions[document["title"], rung] = TierVersion.objects.create(
                tier=tier, version=version, order=rung, **about
            )
    return editions


class TermPlayer:
    """Plays the stories in the order of their weeks."""

    def __init__(self, cast: Cast, editions: Editions, rng: np.random.Generator, until: dt.datetime) -> None:
        self.cast, self.editions, self.rng, self.until = cast, editions, rng, until
        self.plans: dict[Any, tuple[Course, tuple[Action, ...]]] = {}

    def play(self) -> None:
        for week in range(1, len(self.cast.sessions) + 1):
            for story in self.cast.story.teams:
                self._week(story, week)

    def _week(self, story: TeamStory, week: int) -> None:
        begin = self.cast.sessions[week - 1].starts_at
        team, robot = self.cast.teams[story.name], self.cast.robots[story.name]
        manner, scatter = self.cast.story.manner_of(story), self.cast.story.scatter_of(story)
        for measured in story.calibrated:
            if measured.week == week:
                runs, when = measured_runs(measured.kind, manner, scatter, self.rng), begin + dt.timedelta(minutes=4)
                record_calibration(robot, measured.kind, "club mat", runs, by_team=team, now=when)
        for stint in story.stints:
            if stint.week == week:
                self._stint(story, stint, team, robot, begin)
        for passed in story.passed:
            if passed.week == week:
                self._pass(team, passed, begin + dt.timedelta(minutes=80))

    def _pass(self, team: Team, passed: Passed, when: dt.datetime) -> None:
        tier = self.editions[passed.mission, passed.tier].tier
        pass_tier(self.cast.coach, team, tier, self.cast.story.passed_because, min(when, self.until))

    def _stint(self, story: TeamStory, stint: Stint, team: Team, robot: Robot, begin: dt.datetime) -> None:
        edition = self.editions[stint.mission, stint.tier]
        if not edition.tier.progress.filter(team=team).exists():
            open_tier(self.cast.coach, team, edition.tier, self.cast.story.opened_because, begin)
        numbers = numbers_for(robot)
        scene = scene_for(edition, robot, numbers=numbers)
        course, asked = self._plan(stint, team, edition, robot, numbers, begin + MEASURING)
        start = pose_of(course.start)
        told = driving(asked, start, robot, numbers).told
        manner, scatter = self.cast.story.manner_of(story), self.cast.story.scatter_of(story)
        left = as_it_drives(manner, numbers)
        begin += MEASURING
        step = min(dt.timedelta(minutes=8), (self.until - begin) / (stint.runs + 1))
        for k in range(stint.runs):
            run = simulate_run(scene, start, told, left, scatter, self.rng)
            when = begin + step * (k + 1) + dt.timedelta(seconds=int(self.rng.integers(-20, 20)))
            logged = self._logged(run, course, edition, when, course_seconds(scene.robot, told)[0])
            record_attempt(team, logged, now=when + dt.timedelta(seconds=2))

    def _plan(
        self, stint: Stint, team: Team, edition: TierVersion, robot: Robot, numbers: RobotNumbers, now: dt.datetime
    ) -> tuple[Course, tuple[Action, ...]]:
        """The team's plan for the tier with the numbers that it types; typed anew when its robot has been measured."""
        key = (team.pk, edition.pk, stint.way, numbers.calibration and numbers.calibration.pk)
        if key not in self.plans:
            start = pose_of(edition.version.start or {})
            way = self.cast.story.ways[stint.mission, stint.tier, stint.way]
            asked = typed(course_along(way, start), start, robot, numbers)
            self.plans[key] = save_revision(team, edition, robot, start, asked, now=now), asked
        return self.plans[key]

    def _logged(
        self, run: SimulatedRun, course: Course, edition: TierVersion, when: dt.datetime, predicted_s: float
    ) -> AttemptInput:
        saw = {"left_base": run.left_base, "done": run.done, "home": run.home, "untouched": not run.touched}
        outcomes = {each["key"]: saw[each["key"]] for each in edition.criteria}
        good = all(outcomes.values())
        seconds = predicted_s * float(self.rng.normal(1.02, 0.015))
        return AttemptInput(
            uuid=uuid.UUID(bytes=self.rng.bytes(16), version=4),
            tier_id=edition.tier_id,
            made_at=when,
            duration_s=round(seconds, 1),
            outcomes=outcomes,
            lateral_mm=round(run.lateral_mm / 5) * 5.0 if run.met else None,
            along_mm=round(run.along_mm / 5) * 5.0 if run.met else None,
            heading_error_deg=None,
            cause="" if good else cause_of(run),
            change_to_try="" if good else self.cast.story.next_tries[cause_of(run)],
            plan_number=course.number,
        )


def cause_of(run: SimulatedRun) -> str:
    """What a child who watched would tap."""
    if run.touched:
        return "touched"
    if run.done:
        return "other"
    if abs(run.lateral_mm) > abs(run.along_mm):
        return "turned_too_far" if run.lateral_mm > 0 else "turned_too_little"
    return "too_short" if run.along_mm < 0 else "too_long"


def as_it_drives(manner: Manner, numbers: RobotNumbers) -> Manner:
    """What is left of a robot's ways when it is told true lengths and angles by its measured scales."""
    return replace(
        manner,
        distance_scale=manner.distance_scale / numbers.distance_scale,
        turn_scale=manner.turn_scale / numbers.turn_scale,
    )
