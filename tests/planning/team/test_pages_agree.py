"""Over hundreds of made-up clubs: no two pages say another count, direction or state of a team in a tier.

The club is made once; its runs, robots and measurements are dealt anew each time. What is right is reckoned here, from
the runs as they were dealt.
"""

from __future__ import annotations

import datetime as dt
import random
import re
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
import time_machine
from django.urls import reverse
from scipy import stats

from classroom.access import TeamSeat
from classroom.models import Calibration, TabletSession
from classroom.robots.services.calibrate import record_calibration
from missions.family.pages import summary_for
from missions.models import Attempt
from missions.readiness.pages.board import read_board
from missions.readiness.pages.evidence import read_evidence
from missions.readiness.pages.history import read_board_on
from missions.readiness.services.evidence import refresh_evidence
from missions.term.pages.pictures import term_pictures
from planning.models import Course
from planning.team.draft import DraftStep, TeamDraft, first_start
from planning.team.services.keep_draft import keep_draft
from planning.team.what_runs_say import what_runs_say
from tests import factories as make
from tests.pages import page_of
from tests.planning.team.test_course import CLEAR

pytestmark = pytest.mark.django_db

CLUBS = 250
LATER = make.NOW + dt.timedelta(hours=1)
COUNT = re.compile(r"(\d+) of (?:the last )?(\d+) runs?\b")
LANDS = re.compile(r"[Ll]ands (.+?) \((\d+) runs? measured\)")


@dataclass(frozen=True)
class Told:
    """What a page says: (clean, runs), the sides with their sizes, how many were measured; None where it says nothing."""

    counts: tuple[int, int] | None
    sides: tuple[str, ...] | None
    measured: int | None


def told(words: str) -> Told:
    count, lands = COUNT.search(words), LANDS.search(words)
    if lands is None:
        return Told(count and (int(count[1]), int(count[2])), None, None)
    sides = () if lands[1] == "to no side beyond doubt" else tuple(lands[1].split(" and "))
    return Told(count and (int(count[1]), int(count[2])), sides, int(lands[2]))


def reckoned(runs: list[Attempt], robot: Any, since: dt.datetime) -> Told:
    """As the rule has it, by other means: the last twelve of the robot since then with a plan."""
    own = [run for run in runs if run.robot_id == robot.pk and run.plan_number and run.made_at >= since]
    own = sorted(own, key=lambda run: run.made_at)[-12:]
    sides: list[str] = []
    for values, (over, least), (under, most) in (
        ([run.lateral_mm for run in own], ("left", 30.0), ("right", 30.0)),
        ([run.along_mm for run in own], ("too far", 15.0), ("short", 10.0)),
    ):
        known = [value for value in values if value is not None]
        if len(known) < 3 or stats.ttest_1samp(known, 0.0).pvalue >= 0.05:
            continue
        mean = float(np.mean(known))
        if abs(mean) >= (least if mean > 0 else most):
            sides.append(f"{abs(mean) / 10:.1f}".removesuffix(".0") + f" cm {over if mean > 0 else under}")
    measured = sum(run.lateral_mm is not None or run.along_mm is not None for run in own)
    return Told((sum(run.success for run in own), len(own)), tuple(sides) if measured else None, measured or None)


@pytest.fixture
def club(cast: Any) -> Any:
    """A team with two plans of a tier, a spare robot, and the term."""
    cast.mission, cast.editions = make.mission_with_tiers(cast.club)
    cast.term = make.TermFactory(club=cast.club)
    cast.session = make.SessionFactory(term=cast.term, starts_at=make.NOW - dt.timedelta(days=2))
    cast.edition = cast.editions[1]
    cast.progress = make.ProgressFactory(team=cast.team_a, tier=cast.edition.tier)
    cast.spare = make.RobotFactory(club=cast.club, name="Kit 2")
    draft = TeamDraft(first_start(cast.edition), tuple(DraftStep(*each) for each in CLEAR))
    seat = TeamSeat(cast.team_a, TabletSession.objects.get(team=cast.team_a))
    keep_draft(seat, cast.edition, cast.robot_a, draft, base=0, now=make.NOW)
    other = Course.objects.get()
    other.pk, other.number = None, other.number + 1
    other.save()
    return cast


def deal(club: Any, chance: random.Random) -> tuple[list[Attempt], Any, dt.datetime]:
    """Runs of a made-up past, the robot that the team has now, and when it was last changed."""
    Attempt.objects.all().delete()
    Calibration.objects.all().delete()
    robot = chance.choice([club.robot_a, club.robot_a, club.spare])
    club.team_a.assignments.update(robot=robot)
    count = chance.choice([0, 1, 2, 4, 8, 13, 20, 40, 70])
    middle = chance.gauss(0, 35), chance.gauss(0, 20)
    scatter = chance.choice([4, 12, 30])
    better, works = chance.choice([1.0, 1.0, 0.2]), chance.choice([0.2, 0.6, 0.95])
    since = make.NOW - dt.timedelta(days=chance.choice([60, 60, 6, 1]))
    for one in (club.robot_a, club.spare):
        one.changed_at = since
        one.save()
    if chance.random() < 0.3:
        since = max(since, make.NOW - dt.timedelta(days=chance.choice([5, 3])))
        read = [{"commanded_mm": 1000, "measured_mm": 1000 + d} for d in (1, 2, 1)]
        record_calibration(robot, "straight", "table", read, by_team=club.team_a, now=since)
    runs = []
    for i in range(count):
        factor = better if i >= count // 2 else 1.0
        lateral, along = (factor * chance.gauss(mean, scatter) for mean in middle)
        runs.append(
            make.AttemptFactory.build(
                team=club.team_a,
                tier=club.edition.tier,
                tier_version=club.edition,
                session=club.session,
                robot=chance.choice([robot, robot, robot, robot, club.robot_a, club.spare]),
                plan_number=chance.choice([1, 1, 1, 2, None]),
                made_at=make.NOW - dt.timedelta(hours=5 * (count - i)),
                success=chance.random() < works,
                lateral_mm=chance.choice([lateral, lateral, lateral, None]),
                along_mm=chance.choice([along, along, along, None]),
            )
        )
    Attempt.objects.bulk_create(runs)
    club.progress.refresh_from_db()
    club.progress.team = club.team_a
    club.progress.evidence, club.progress.last_run_at = {}, None
    refresh_evidence(club.progress, make.NOW)
    return list(Attempt.objects.order_by("made_at")), robot, since


def change_of(words: str) -> tuple[str, str, list[str]]:
    """Which way the distance and the clean runs went, and the counts that this rests on."""
    off = next((way for way in ("closer to", "farther from", "about as f") if way in words), "")
    clean = re.search(r"(More|Fewer|About as many)\b", words, re.IGNORECASE)
    counts = re.findall(r"\b(?:of|in) (?:the )?(?:first |last )?(\d+)|\((\d+) runs measured", words)
    return off, clean[1].lower() if clean else "", sorted(a or b for a, b in counts)


def test_no_two_pages_say_another_count_direction_or_state(club: Any) -> None:
    chance = random.Random(29)
    said = sided = patterns = changed = ready = 0
    for number in range(CLUBS):
        runs, robot, since = deal(club, chance)
        right = reckoned(runs, robot, since)
        board = read_board(club.club, LATER, club.mission.pk)
        assert board is not None
        cell = next(row for row in board.rows if row.team.name == "Curlew").cells[1]
        page = read_evidence(club.club, club.team_a, club.edition.tier, LATER)
        assert page is not None
        summary = summary_for(club.member_a, now=LATER)
        rung = next(rung for rung in summary.rungs if rung.tier == "with obstacle")
        pages = {"evidence": told(" ".join(page.said)), "family": told(rung.words)}
        if cell.side:
            pages["board"] = told(cell.side)
        past = read_board_on(club.club, LATER.date(), LATER, club.mission.pk)
        assert past is not None
        assert next(row for row in past.rows if row.team.name == "Curlew").cells[1].side == cell.side
        counted = [run for run in runs if run.robot_id == robot.pk and run.plan_number and run.made_at >= since]
        found = what_runs_say(counted[-1], "cm", LATER) if counted else None
        if found is not None:
            pages["tablet"] = told(found.evidence)
            patterns += found.verdict == "pattern"
            assert not (found.says.sides and "scatter as widely" in found.sentence and found.verdict == "no_pattern")
        if right.counts == (0, 0):
            assert all(each == Told(None, None, None) for each in pages.values()), (number, pages)
        for name, each in pages.items():
            assert each.counts in (None, right.counts), (number, name, each, right)
            assert each.sides in (None, right.sides), (number, name, each, right)
            assert each.measured in (None, right.measured), (number, name, each, right)
        assert bool(cell.side) == bool(right.sides) == ("lands" in rung.words), number
        both = sum(run.lateral_mm is not None and run.along_mm is not None for run in counted[-12:])
        assert page.plot is None or page.plot.counted == both
        assert (rung.state == "nearly") == (cell.chip.word == "Ready to move up"), number
        term = {one.team.name: one.in_words for one in term_pictures(club.term, club.club, LATER)["each"]}
        family = change_of(summary.change)
        assert family == change_of(term.get("Curlew", "")), (number, summary.change, term)
        said, sided = said + (found is not None), sided + bool(right.sides)
        changed, ready = changed + (family[0] in ("closer to", "farther from")), ready + (rung.state == "nearly")
    assert (
        min(said, sided) > CLUBS / 7 and min(patterns, changed, ready) >= 5
    )  # each of them was there to disagree about


def test_the_pages_themselves_say_it(club: Any) -> None:
    """The words stand in the pages, not only in what they are made of."""
    chance = random.Random(30)
    for _ in range(400):
        runs, robot, since = deal(club, chance)
        right = reckoned(runs, robot, since)
        newest = runs[-1] if runs else None
        if right.sides and newest and newest.plan_number and newest.robot_id == robot.pk:
            break
    assert right.sides and newest is not None
    with time_machine.travel(LATER, tick=False):
        pages = {
            "board": club.as_coach.get(reverse("board_mission", args=[club.mission.pk])),
            "evidence": club.as_coach.get(reverse("evidence", args=[club.team_a.pk, club.edition.tier.pk])),
            "tablet": club.as_team_a.get(reverse("team_run", args=[newest.uuid])),
            "family": club.as_guardian_a.get(reverse("family")),
        }
        for name, answer in pages.items():
            page = page_of(answer)
            assert [told(found[0]).sides for found in LANDS.finditer(page)] == [right.sides], (name, page)
            assert {int(found[2]) for found in LANDS.finditer(page)} == {right.measured}, name
        one = next(one for one in term_pictures(club.term, club.club, LATER)["each"] if one.team.name == "Curlew")
        assert one.in_words in page_of(club.as_coach.get(reverse("term_progress", args=[club.term.pk])))
