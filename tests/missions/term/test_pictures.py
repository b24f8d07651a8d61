"""The term in pictures: the sums against numpy, and no ranking."""

from __future__ import annotations

import datetime as dt
import random

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from scipy import stats

from missions.term.pages.pictures import (
    FEWEST,
    SURE,
    SessionSums,
    mean_between,
    offset_mm,
    spread_mm,
    term_pictures,
)
from motion.chance.intervals import wilson
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW


@pytest.fixture
def term(cast):
    """Two sessions of Curlew, the second with a fifth of the spread."""
    cast.term = make.TermFactory(club=cast.club)
    _, cast.editions = make.mission_with_tiers(cast.club)
    cast.sessions = [
        make.SessionFactory(term=cast.term, starts_at=NOW - dt.timedelta(days=14)),
        make.SessionFactory(term=cast.term, starts_at=NOW - dt.timedelta(days=7)),
    ]
    return cast.term


def runs(cast, team, session, count, spread, *, seed=1, middle=0.0):
    chance = random.Random(seed)
    return [
        make.AttemptFactory(
            team=team,
            tier_version=cast.editions[0],
            session=session,
            robot=cast.robot_a,
            plan_number=1,
            made_at=session.starts_at + dt.timedelta(minutes=i),
            lateral_mm=middle + chance.gauss(0, spread),
            along_mm=chance.gauss(0, spread),
            duration_s=60 + chance.gauss(0, 5),
            success=chance.random() < 0.5,
        )
        for i in range(count)
    ]


def test_the_spread_is_the_pooled_standard_deviation_about_the_teams_own_middle(cast, term):
    made = runs(cast, cast.team_a, cast.sessions[0], 12, 30, middle=80)
    points = np.array([(a.lateral_mm, a.along_mm) for a in made])
    about = points - points.mean(axis=0)
    expected = np.sqrt((about**2).sum() / (2 * (len(points) - 1)))
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert f"{expected / 10:.1f} cm" in one.spread.marks[0].words
    assert one.spread.marks[0].words.endswith("12 landings")


def test_the_share_of_clean_runs_and_the_offset_are_those_of_the_evidence_page(cast, term):
    """One plan, one session: the counts and the middle that the evidence page has of the same runs."""
    session = cast.sessions[1]
    made = runs(cast, cast.team_a, session, 12, 8, middle=30)
    make.ProgressFactory(team=cast.team_a, tier=cast.editions[0].tier)
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    clean = sum(run.success for run in made)
    assert f"{clean} of 12 clean" in one.clean.marks[0].words
    low, high = (100 * end for end in wilson(clean, 12, SURE))
    assert f"({low:.0f} to {high:.0f} %)" in one.clean.marks[0].words
    across = np.mean([run.lateral_mm for run in made])
    ahead = np.mean([run.along_mm for run in made])
    assert f"{np.hypot(across, ahead) / 10:.1f} cm off the mark, {across / 10:.1f} cm left" in one.offset.marks[0].words
    page = cast.as_coach.get(reverse("evidence", args=[cast.team_a.pk, cast.editions[0].tier_id]))
    plot = page.context["plot"]
    assert plot.counted == 12
    scale = (plot.dots[0].y - plot.centre) / -made[0].lateral_mm
    assert plot.mean.y + plot.mean.height / 2 == pytest.approx(plot.centre - scale * across, abs=3)
    whole = term_pictures(term, cast.club, NOW)["whole"]
    assert whole.offset is None and f"{clean} of 12 clean" in whole.clean.marks[0].words


def test_the_interval_of_an_offset_holds_the_true_one_about_as_often_as_it_says():
    rng, inside = np.random.default_rng(3), 0
    for _ in range(1500):
        points = rng.normal((30, 0), 10, (8, 2))
        squares = ((points - points.mean(axis=0)) ** 2).sum()
        sums = SessionSums(NOW.date(), 8, 0, 8, points[:, 0].sum(), points[:, 1].sum(), squares, 14, 0, 0.0, 0.0)
        _, low, high = offset_mm(sums)
        inside += low <= 30 <= high
    assert inside / 1500 == pytest.approx(SURE, abs=0.04)


def test_the_interval_of_a_spread_holds_the_true_value_as_often_as_it_says():
    chance = np.random.default_rng(7)
    held = 0
    for _ in range(2000):
        points = chance.normal(0, 25, size=(8, 2))
        about = points - points.mean(axis=0)
        _, low, high = spread_mm(float((about**2).sum()), 14)
        held += low <= 25 <= high
    assert abs(held / 2000 - SURE) < 0.03


def test_the_interval_of_a_mean_is_students_as_scipy_has_it():
    values = [41.0, 52.5, 47.0, 60.0, 44.0]
    mean, low, high = mean_between(len(values), sum(values), sum(v * v for v in values))
    expected = stats.t.interval(SURE, len(values) - 1, loc=np.mean(values), scale=stats.sem(values))
    assert (low, high) == pytest.approx(expected)
    assert mean == pytest.approx(np.mean(values))


def test_landings_closer_to_the_mark_are_said_in_words(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], 15, 50)
    runs(cast, cast.team_a, cast.sessions[1], 15, 10, seed=2)
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert one.in_words.startswith("Plan 1: landings closer to the mark: ")
    assert "in the first 15 runs measured" in one.in_words and "in the 15 since" in one.in_words
    assert len(one.spread.marks) == 2


def test_a_difference_that_chance_makes_as_well_is_no_difference(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], 8, 36)
    runs(cast, cast.team_a, cast.sessions[1], 8, 27, seed=2)
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert "landings about as far off as before" in one.in_words and "(16 runs measured)" in one.in_words


def test_numbers_that_were_changed_are_another_plan_and_no_change(cast, term):
    """Everything is off by 10 cm until the team types other numbers in mid-session."""
    for run in runs(cast, cast.team_a, cast.sessions[0], 6, 5, middle=100):
        run.plan_number = 2
        run.save()
    runs(cast, cast.team_a, cast.sessions[1], 12, 5, seed=2)
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert one.in_words.startswith("Plan 1: landings about as far off as before")


def test_a_robot_that_was_measured_since_begins_anew(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], 15, 50)
    runs(cast, cast.team_a, cast.sessions[1], 15, 10, seed=2)
    make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW - dt.timedelta(days=1))
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert one.in_words.startswith("Too few runs of one plan, with the robot as it is now")


def test_a_term_that_is_over_is_told_as_it_ended(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], 15, 50)
    runs(cast, cast.team_a, cast.sessions[1], 15, 10, seed=2)
    make.CalibrationFactory(robot=cast.robot_a, measured_at=NOW + dt.timedelta(days=100))
    (one,) = term_pictures(term, cast.club, NOW + dt.timedelta(days=200))["each"]
    assert "closer to the mark" in one.in_words


def test_of_all_teams_together_no_change_is_claimed(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], 15, 50)
    runs(cast, cast.team_a, cast.sessions[1], 15, 10, seed=2)
    assert "stands with each team" in term_pictures(term, cast.club, NOW)["whole"].in_words


def test_too_few_landings_say_so(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], FEWEST - 1, 30)
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert one.spread is None
    assert "Too few runs of one plan" in one.in_words


def test_withdrawn_and_corrected_runs_do_not_count(cast, term):
    made = runs(cast, cast.team_a, cast.sessions[0], 5, 30)
    made[0].withdrawn_at = NOW
    made[0].save()
    made[1].replaced_by = made[2]
    made[1].save()
    (one,) = term_pictures(term, cast.club, NOW)["each"]
    assert one.bars[0].runs == 3


def test_the_teams_stand_in_the_clubs_order_whoever_does_best(cast, term):
    runs(cast, cast.team_b, cast.sessions[0], 9, 5)
    runs(cast, cast.team_a, cast.sessions[0], 5, 60)
    each = term_pictures(term, cast.club, NOW)["each"]
    assert [one.team.name for one in each] == ["Curlew", "Plover"]


def test_the_pictures_cost_the_same_queries_whatever_the_runs(cast, term):
    def count():
        with CaptureQueriesContext(connection) as seen:
            assert cast.as_coach.get(reverse("term_progress", args=[term.pk])).status_code == 200
        return len(seen)

    runs(cast, cast.team_a, cast.sessions[0], 5, 30)
    before = count()
    for number, session in enumerate(cast.sessions):
        for team in (cast.team_a, cast.team_b):
            runs(cast, team, session, 6, 30, seed=number)
    assert count() == before


def test_done_and_not_done_are_told_apart_by_more_than_colour(cast, term):
    runs(cast, cast.team_a, cast.sessions[0], 8, 30)
    page = page_of(cast.as_coach.get(reverse("term_progress", args=[term.pk])))
    assert "bar-done" in page and "bar-other" in page
    assert "8 runs" in page


def test_a_term_without_runs_says_when_pictures_come(cast, term):
    assert "No run has been logged" in page_of(cast.as_coach.get(reverse("term_progress", args=[term.pk])))
