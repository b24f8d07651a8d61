"""What a family reads of the term: the ladder in plain words, and changes only where they are changes."""

from __future__ import annotations

import datetime as dt

import pytest

from missions.family.pages import summary_for
from missions.readiness.services.evidence import refresh_evidence
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def term(cast):
    make.TermFactory(club=cast.club, name="Autumn term")
    mission, tiers = make.mission_with_tiers(cast.club)
    mission.title = "Tide gate"
    mission.save()
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier, state="passed", passed_at=NOW)
    progress = make.ProgressFactory(team=cast.team_a, tier=tiers[1].tier, state="working")
    for week, misses in ((5, (100, 110, 120)), (3, (60, 70, 95)), (1, (10, 20, 30))):
        for i, miss in enumerate(misses):
            make.AttemptFactory(
                team=cast.team_a,
                tier_version=tiers[1],
                robot=cast.robot_a,
                plan_number=1,
                made_at=NOW - dt.timedelta(weeks=week, minutes=i),
                success=miss < 100,
                cause="" if miss < 100 else "turned_too_far",
                lateral_mm=miss * 0.6,
                along_mm=miss * 0.8,
            )
    refresh_evidence(progress, NOW)
    return tiers


def test_a_summary_has_the_ladder_in_plain_words(cast, term):
    rungs = summary_for(cast.member_a, now=NOW).rungs
    assert [(r.mission, r.tier, r.state) for r in rungs] == [
        ("Tide gate", "plain route", "passed"),
        ("Tide gate", "with obstacle", "working"),
    ]
    landing = "On average it lands 4.1 cm left and 5.5 cm too far (9 runs measured)."
    assert rungs[1].words == f"6 of 9 runs worked. {landing}"
    assert summary_for(cast.member_a, now=NOW).later == 1


def test_the_picture_shows_each_weeks_middle_run_and_its_middle_half(cast, term):
    """Misses 100, 110, 120 mm: median 11 cm, quartiles 10.5 and 11.5 (Hyndman and Fan 1996, type 7)."""
    summary = summary_for(cast.member_a, now=NOW)
    assert len(summary.picture.marks) == 3 and "11.0 cm from 3 measured runs" in summary.picture.marks[0].words
    assert summary.change == ""
    first = summary.picture.marks[0]
    assert first.high < first.y < first.low
    assert (first.low - first.y) == pytest.approx(first.y - first.high, abs=0.2)


def more_runs(cast, tier_version, misses, *, plan_number=1):
    for i, miss in enumerate(misses):
        at = NOW - dt.timedelta(hours=2) + dt.timedelta(minutes=i)
        make.AttemptFactory(
            team=cast.team_a, tier_version=tier_version, robot=cast.robot_a, plan_number=plan_number, made_at=at,
            success=miss < 100, lateral_mm=0.0, along_mm=miss,
        )  # fmt: skip


def test_a_change_is_said_with_its_two_numbers_when_it_is_one(cast, term):
    more_runs(cast, term[1], [12, 15, 9, 14, 11, 13, 10, 12, 15])
    change = summary_for(cast.member_a, now=NOW).change
    assert change.startswith("Tide gate, with obstacle, runs of plan 1 with the robot as it is now. They end closer to")
    assert "usually 7 cm away in the first 9 runs measured and 1.2 cm in the 9 since" in change


def test_a_difference_that_chance_makes_as_well_is_about_as_before(cast, term):
    """The middles of the halves differ by a third, and nothing has changed."""
    more_runs(cast, term[1], [71, 20, 64, 35, 80, 52, 40, 15, 66, 30, 45, 41], plan_number=2)
    change = summary_for(cast.member_a, now=NOW).change
    assert "plan 2" in change and "about as far from the mark as before: usually 4.3 cm (12 runs measured)" in change
    assert "About as many work as before: 12 of 12." in change


def test_a_better_plan_or_an_easier_tier_is_no_change(cast, term):
    more_runs(cast, term[1], [10 + i % 3 for i in range(10)], plan_number=2)
    assert "about as far" in summary_for(cast.member_a, now=NOW).change
    more_runs(cast, term[0], [1 + i % 2 for i in range(4)], plan_number=3)
    assert "closer" not in summary_for(cast.member_a, now=NOW).change


def test_nearly_there_is_what_the_board_calls_ready(cast, term):
    progress = cast.team_a.progress.get(tier=term[1].tier)
    for day in range(14):
        at = NOW - dt.timedelta(days=14 - day)
        make.AttemptFactory(team=cast.team_a, tier_version=term[1], robot=cast.robot_a, plan_number=1, made_at=at)
    refresh_evidence(progress, NOW)
    assert progress.answer == "ready"
    assert summary_for(cast.member_a, now=NOW).rungs[1].state == "nearly"
    cast.robot_a.changed_at = NOW
    cast.robot_a.save()
    (_, rung) = summary_for(cast.member_a, now=NOW + dt.timedelta(hours=1)).rungs
    assert rung.state == "working" and "none yet of a known plan with the robot as it is now" in rung.words


def test_weeks_with_too_few_measured_runs_are_left_out(cast, term):
    cast.team_a.attempts.order_by("made_at")[0].delete()
    assert len(summary_for(cast.member_a, now=NOW).picture.marks) == 2


def test_runs_that_were_corrected_or_withdrawn_do_not_count(cast, term):
    cast.team_a.attempts.filter(success=True).update(withdrawn_at=NOW)
    assert summary_for(cast.member_a, now=NOW).picture is None


def test_runs_from_before_the_child_joined_are_not_theirs(cast, term):
    cast.member_a.memberships.update(joined_on=NOW.date() - dt.timedelta(days=10))
    assert summary_for(cast.member_a, now=NOW).runs == 3


def test_a_summary_costs_the_same_queries_however_many_runs(cast, term, django_assert_max_num_queries):
    for _ in range(40):
        make.AttemptFactory(team=cast.team_a, tier_version=term[1], lateral_mm=1, along_mm=1)
    with django_assert_max_num_queries(10):
        summary_for(cast.member_a, now=NOW)
