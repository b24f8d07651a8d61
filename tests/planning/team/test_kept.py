"""What a team keeps of its drafts and surveys, to the row, with two tablets at work."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest

from classroom.access import TeamSeat
from classroom.errors import ConflictError
from classroom.robots.numbers import numbers_for
from motion.course.actions import Drive, Turn
from motion.scene.records import Pose
from planning.courses.services.save_revision import save_revision
from planning.models import Course, TableSurvey
from planning.team.draft import draft_of
from planning.team.services import keep_survey as surveys
from planning.team.services.keep_draft import keep_draft, newest_plan
from planning.team.services.keep_survey import end_survey, keep_survey, last_ended, take_up_survey
from tests import factories as make
from tests.log import tells_live_pages

NOW = make.NOW
HOUR = dt.timedelta(hours=1)
START = Pose(120, 225, 0)


@pytest.fixture
def editions(cast):
    return make.mission_with_tiers(cast.club)[1]


@pytest.fixture
def seat(cast):
    return TeamSeat(cast.team_a, make.TabletSessionFactory(team=cast.team_a))


def plan(cast, edition, distance_mm, team=None):
    return save_revision(team or cast.team_a, edition, cast.robot_a, START, (Turn(13, 13), Drive(distance_mm)), now=NOW)


def drawn(cast, course):
    return draft_of(course, cast.robot_a, numbers_for(cast.robot_a))


# Drafts


def test_the_newest_plan_is_the_teams_own_of_this_tier(cast, editions, seat):
    assert newest_plan(seat, editions[0].tier) is None
    plan(cast, editions[0], 300)
    newest = plan(cast, editions[0], 310)
    elsewhere, of_others = plan(cast, editions[1], 320), plan(cast, editions[0], 330, cast.team_b)
    Course.objects.filter(pk__in=[elsewhere.pk, of_others.pk]).update(number=9)
    planner = plan(cast, editions[0], 340)
    Course.objects.filter(pk=planner.pk).update(origin="planner")
    assert newest_plan(seat, editions[0].tier) == newest


def test_a_draft_on_the_newest_plan_is_kept_as_the_next(cast, editions, seat):
    draft = drawn(cast, plan(cast, editions[0], 300))
    plan(cast, editions[0], 310)
    kept = keep_draft(seat, editions[0], cast.robot_a, draft, base=2, now=NOW + HOUR)
    assert (kept.number, kept.team, kept.robot, kept.created_at) == (3, cast.team_a, cast.robot_a, NOW + HOUR)
    assert drawn(cast, kept) == draft
    assert keep_draft(seat, editions[0], cast.robot_a, draft, base=9, now=NOW).number == 4


def test_a_draft_that_another_tablet_overtook_is_told_and_one_sent_twice_is_kept_once(cast, editions, seat):
    first = plan(cast, editions[0], 300)
    draft = drawn(cast, first)
    assert keep_draft(seat, editions[0], cast.robot_a, draft, base=0, now=NOW) == first
    plan(cast, editions[0], 310)
    with pytest.raises(ConflictError) as raised:
        keep_draft(seat, editions[0], cast.robot_a, draft, base=1, now=NOW)
    assert (raised.value.code, raised.value.message) == (
        "newer_plan",
        "Your team kept plan 2 on another tablet while you drew this one. "
        "Nothing is lost: look at plan 2, then keep yours too.",
    )
    assert Course.objects.count() == 2


# Surveys


@pytest.fixture
def fix(monkeypatch):
    monkeypatch.setattr(surveys, "record_of", lambda places: [{"object": name} for name in places])
    reading = SimpleNamespace(mark="1:0", to="left", distance_mm=940.0)
    return SimpleNamespace(readings=[reading], places=["bank"], picture=None)


def rows(**where):
    return list(TableSurvey.objects.filter(**where).order_by("pk").values_list("made_at", "ended_at"))


def test_a_survey_is_kept_with_its_readings_and_places(cast, editions, fix):
    made = TableSurvey.objects.get(pk=keep_survey(cast.team_a, editions[1], fix, now=NOW).pk)
    assert (made.team, made.tier_version, made.made_at, made.ended_at) == (cast.team_a, editions[1], NOW, None)
    assert made.readings == [{"mark": "1:0", "to": "left", "distance_mm": 940.0}]
    assert made.places == [{"object": "bank"}]


def test_ending_a_survey_ends_this_teams_on_this_tier_once(cast, editions, fix):
    for team, edition in [(cast.team_a, editions[1]), (cast.team_b, editions[1]), (cast.team_a, editions[2])]:
        keep_survey(team, edition, fix, now=NOW)
    end_survey(cast.team_a, editions[1], now=NOW + HOUR)
    end_survey(cast.team_a, editions[1], now=NOW + 2 * HOUR)
    assert rows() == [(NOW, NOW + HOUR), (NOW, None), (NOW, None)]


def test_the_last_survey_is_taken_up_again_as_measured_then(cast, editions, fix):
    assert take_up_survey(cast.team_a, editions[1]) is None
    keep_survey(cast.team_a, editions[1], fix, now=NOW)
    keep_survey(cast.team_b, editions[1], fix, now=NOW + HOUR)
    keep_survey(cast.team_a, editions[2], fix, now=NOW + HOUR)
    assert last_ended(cast.team_a, editions[1]) is None and take_up_survey(cast.team_a, editions[1]) is None
    end_survey(cast.team_a, editions[1], now=NOW + HOUR)
    again = take_up_survey(cast.team_a, editions[1])
    assert rows(team=cast.team_a, tier_version=editions[1]) == [(NOW, NOW + HOUR), (NOW, None)]
    assert TableSurvey.objects.get(pk=again.pk).places == [{"object": "bank"}]
    assert last_ended(cast.team_a, editions[1]) is None


def test_the_newest_of_several_is_taken_up(cast, editions, fix):
    for at in (NOW + HOUR, NOW):
        keep_survey(cast.team_a, editions[1], fix, now=at)
    end_survey(cast.team_a, editions[1], now=NOW + 2 * HOUR)
    assert last_ended(cast.team_a, editions[1]).made_at == NOW + HOUR


def test_live_pages_hear_of_surveys(cast, editions, fix):
    for act in (
        lambda: keep_survey(cast.team_a, editions[1], fix, now=NOW),
        lambda: end_survey(cast.team_a, editions[1], now=NOW),
        lambda: take_up_survey(cast.team_a, editions[1]),
    ):
        assert tells_live_pages(act, cast.club)
