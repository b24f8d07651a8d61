"""What a family reads of the term: the ladder in plain words, and changes only where they are changes."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.urls import reverse

from classroom.families.share_summary import write_words
from classroom.models import Term
from missions.family.pages import summary_for
from missions.models import SessionRun
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
    with django_assert_max_num_queries(11):
        summary_for(cast.member_a, now=NOW)


def written(cast, learnt, days_ago):
    at = NOW - dt.timedelta(days=days_ago)
    return write_words(
        cast.member_a, cast.coach, learnt=learnt, working_on="Turns.", ask_at_home="Why?", approve=True, now=at
    )


def shown_to_the_family(cast):
    with time_machine.travel(NOW, tick=False):
        page = cast.as_coach.get(reverse("family_preview", args=[cast.member_a.pk])).content.decode()
    return " ".join(page.split())


def test_the_words_say_of_when_they_are_and_what_stood_there_before(cast, term):
    for learnt, days_ago in (("One.", 40), ("Two.", 30), ("Three.", 20), ("Four.", 10), ("Five.", 1)):
        written(cast, learnt, days_ago)
    summary = summary_for(cast.member_a, now=NOW)
    assert (summary.words.learnt, [words.learnt for words in summary.earlier]) == ("Five.", ["Four.", "Three.", "Two."])
    page = shown_to_the_family(cast)
    assert "From the coach <small>17 November</small>" in page
    read = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page))
    assert "8 November. Learnt: Four. Working on: Turns." in read and "One." not in read


def test_what_was_passed_since_the_last_words_is_said(cast, term):
    """The plain route was passed just now: after the words of ten days ago, before no others."""
    written(cast, "Before.", 10)
    assert summary_for(cast.member_a, now=NOW).since == ()
    written(cast, "Now.", 0)
    assert summary_for(cast.member_a, now=NOW).since == ("Tide gate, plain route",)
    assert "Passed since the words of 8 November: Tide gate, plain route." in shown_to_the_family(cast)


def test_a_draft_is_no_version_that_a_family_was_shown(cast, term):
    written(cast, "Shown.", 5)
    write_words(cast.member_a, cast.coach, learnt="Draft.", working_on="x", ask_at_home="x", approve=False, now=NOW)
    summary = summary_for(cast.member_a, now=NOW)
    assert (summary.words.learnt, summary.earlier) == ("Shown.", ())


def test_the_next_session_that_takes_place_is_said_with_its_place(cast, term):
    own = Term.objects.get(club=cast.club, name="Autumn term")
    for days, place, cancelled in (
        (-7, "Last week", None),
        (1, "Called off", NOW),
        (8, "Net loft", None),
        (15, "Later", None),
    ):
        at = NOW + dt.timedelta(days=days)
        session = make.SessionFactory(term=own, starts_at=at, ends_at=at + dt.timedelta(minutes=90), place=place)
        if cancelled:
            SessionRun.objects.create(session=session, changed_at=NOW, cancelled_at=cancelled)
    assert summary_for(cast.member_a, now=NOW).next_session.place == "Net loft"
    assert "Thursday 26 November, 16:00 to 17:30, Net loft." in shown_to_the_family(cast)
    assert summary_for(cast.member_a, now=NOW + dt.timedelta(days=60)).next_session is None
