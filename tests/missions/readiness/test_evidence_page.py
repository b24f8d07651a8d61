from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from missions.models import Attempt
from missions.readiness.services.evidence import refresh_evidence
from missions.readiness.services.progress import open_tier
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW


@pytest.fixture
def plain(cast):
    _, cast.editions = make.mission_with_tiers(cast.club)
    cast.progress = make.ProgressFactory(team=cast.team_a, tier=cast.editions[0].tier)
    return cast.editions[0]


def add_runs(cast, edition, count, **other):
    for i in range(count):
        at = NOW - dt.timedelta(minutes=count - i)
        make.AttemptFactory(team=cast.team_a, tier_version=edition, made_at=at, robot=cast.robot_a, **other)
    refresh_evidence(cast.progress, NOW)


def read(client, edition, team):
    return client.get(reverse("evidence", args=[team.pk, edition.tier_id]))


def test_it_shows_the_runs_the_rule_and_the_calibration_of_each(cast, plain):
    calibration = make.CalibrationFactory(robot=cast.robot_a)
    add_runs(cast, plain, 3, calibration=calibration, plan_number=7, lateral_mm=40, along_mm=-20, duration_s=41.5)
    page = page_of(read(cast.as_coach, plain, cast.team_a))
    for words in (
        "4 cm left",
        "2 cm short",
        "plan 7",
        "41.5 s",
        "at least 90 % sure",
        "straight runs of",
        "Log 2 runs more",
    ):
        assert words in page


def test_withdrawn_and_corrected_runs_stay_in_sight_and_out_of_the_plot(cast, plain):
    add_runs(cast, plain, 3, lateral_mm=10, along_mm=0)
    first, second, third = Attempt.objects.order_by("made_at")
    Attempt.objects.filter(pk=first.pk).update(withdrawn_at=NOW)
    Attempt.objects.filter(pk=second.pk).update(replaced_by=third)
    page = page_of(read(cast.as_coach, plain, cast.team_a))
    assert page.count('class="gone"') == 2
    assert page.count('<circle class="y"') == 1


def test_the_same_miss_again_names_what_to_measure(cast, plain):
    add_runs(cast, plain, 6, success=False, cause="turned_too_far")
    page = page_of(read(cast.as_coach, plain, cast.team_a))
    assert reverse("calibrate", args=[cast.robot_a.pk, "spin"]) in page


def test_a_decision_is_shown_with_who_when_why_and_on_what(cast, plain):
    add_runs(cast, plain, 3)
    open_tier(cast.coach, cast.team_a, cast.editions[1].tier, "They asked to try", NOW)
    page = page_of(read(cast.as_coach, cast.editions[1], cast.team_a))
    assert "They asked to try" in page and "Against the rule" in page and "Plain route: Only 3 runs" in page


def test_only_the_newest_runs_are_listed_and_the_rest_counted(cast, plain):
    add_runs(cast, plain, 63)
    page = page_of(read(cast.as_coach, plain, cast.team_a))
    assert "3 older runs" in page


def test_it_asks_the_same_number_of_times_whatever_the_history(cast, plain):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            assert read(cast.as_coach, plain, cast.team_a).status_code == 200
        return len(queries)

    add_runs(cast, plain, 5)
    few = asked()
    add_runs(cast, plain, 30)
    assert asked() == few <= 14


def test_a_tier_that_was_never_published_has_no_evidence(cast):
    draft = make.TierFactory(mission__club=cast.club)
    assert cast.as_coach.get(reverse("evidence", args=[cast.team_a.pk, draft.pk])).status_code == 404


def test_taking_a_run_out_twice_is_told(cast, plain):
    add_runs(cast, plain, 1)
    url = reverse("withdraw_run", args=[Attempt.objects.get().pk])
    assert cast.as_coach.post(url).status_code == 302
    response = cast.as_coach.post(url)
    assert response.status_code == 409 and "was taken out" in page_of(response)


def test_a_decision_that_lacks_its_reason_keeps_the_form(cast, plain):
    url = reverse("decide", args=[cast.team_a.pk, plain.tier_id, "pass"])
    response = cast.as_coach.post(url, {"reason": ""})
    assert response.status_code == 422 and "Say why" in page_of(response)
    assert cast.as_coach.post(url, {"reason": "Shown at the open day"}).status_code == 302


def test_a_decision_goes_back_to_its_own_site_only(cast, plain):
    url = reverse("decide", args=[cast.team_a.pk, plain.tier_id, "hold"])
    response = cast.as_coach.post(url, {"reason": "One table", "next": "https://elsewhere.example/"})
    assert response.url == reverse("board_mission", args=[plain.version.mission_id])


def test_in_the_dialogue_a_decision_answers_with_an_event(cast, plain):
    url = reverse("decide", args=[cast.team_a.pk, plain.tier_id, "hold"])
    response = cast.as_coach.post(url, {"reason": "One table"}, headers={"HX-Request": "true"})
    assert response.status_code == 204
    assert "are held on" in response["HX-Trigger"]
