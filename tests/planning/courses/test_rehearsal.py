"""What the script that plays a course is told: the check's own poses, the card's own numbers, words for every ending."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from motion.chance.pretend_runs import PretendRun
from planning.courses.pages.card import card_of
from planning.courses.pages.rehearsal import ENDINGS, tally
from planning.courses.services.save_revision import save_revision
from planning.preparing import kernels
from planning.team.draft import draft_actions, read_draft
from tests import factories as make
from tests.planning.team.test_course import CLEAR, draft_json

pytestmark = pytest.mark.django_db


@pytest.fixture
def course(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    draft = read_draft({"draft": draft_json(CLEAR)}, cast.robot_a, editions[1])
    actions = draft_actions(draft, cast.robot_a)
    return save_revision(cast.team_a, editions[1], cast.robot_a, draft.start, actions, now=timezone.now())


def test_poses_times_and_numbers_are_those_of_the_card(cast: Any, course: Any) -> None:
    card = card_of(course)
    record = cast.as_coach.get(reverse("course_rehearsal", args=[course.pk])).json()
    assert record["poses"] == [
        pytest.approx([pose.x_mm, pose.y_mm, pose.heading_deg], abs=0.01) for pose in card.check.poses
    ]
    assert record["steps"][-1]["ends"] == pytest.approx(card.check.duration_s, abs=1e-3)
    assert [step["type"] for step in record["steps"]] == [row.turn or row.distance for row in card.rows]
    assert len(record["ghosts"]) == 20
    working = sum(ghost["fails"] is None for ghost in record["ghosts"])
    assert working == pytest.approx(20 * card.check.success.probability, abs=1.0)


def test_the_team_hears_the_same_of_its_plan_and_of_the_draft_that_it_was(cast: Any, course: Any) -> None:
    of_coach = cast.as_coach.get(reverse("course_rehearsal", args=[course.pk])).json()
    assert cast.as_team_a.get(reverse("team_rehearsal", args=[course.pk])).json() == of_coach
    sent = {"draft": draft_json(CLEAR), "tier": course.tier_version.tier_id}
    draft = cast.as_team_a.post(reverse("team_draft_rehearsal"), sent).json()
    assert draft["poses"] == of_coach["poses"]
    assert draft["steps"] == of_coach["steps"]


def test_a_draft_that_pushes_nothing_yet_goes_without_pretend_runs(cast: Any, course: Any) -> None:
    sent = {"draft": draft_json(CLEAR[:3]), "tier": course.tier_version.tier_id}
    record = cast.as_team_a.post(reverse("team_draft_rehearsal"), sent).json()
    assert (len(record["steps"]), record["ghosts"], record["tally"]) == (3, [], [])


@pytest.mark.parametrize(
    ("draft", "words"),
    [(draft_json([]), "There is nothing to rehearse yet."), (json.dumps([1]), "This draft cannot be read.")],
)
def test_what_cannot_be_rehearsed_is_refused_in_words(cast: Any, course: Any, draft: str, words: str) -> None:
    sent = {"draft": draft, "tier": course.tier_version.tier_id}
    response = cast.as_team_a.post(reverse("team_draft_rehearsal"), sent)
    assert response.status_code == 422
    assert response.json()["wrong"].startswith(words)


def test_while_the_planner_gets_ready_that_is_said(cast: Any, course: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr("planning.courses.pages.rehearsal.kernels_ready", lambda: False)
    assert kernels.kernels_ready()
    response = cast.as_coach.get(reverse("course_rehearsal", args=[course.pk]))
    assert response.status_code == 503
    assert "still getting ready" in response.json()["wrong"]


def test_every_ending_has_a_shape_and_a_word_and_is_counted() -> None:
    ghosts = [PretendRun((), "works"), PretendRun((), "works"), PretendRun((), "touches", 2, 0.5, "gravel bank")]
    ghosts += [PretendRun((), ending, 4) for ending in ENDINGS if ending not in ("works", "touches")]
    lines = tally(ghosts)
    assert lines[0] == {"shape": "ring", "words": "2 of 10 work."}
    assert lines[1] == {"shape": "cross", "words": "1 of 10 touches the gravel bank in step 3."}
    assert len(lines) == len(ENDINGS)
    assert all(line["words"] for line in lines)
    failing = [ENDINGS[ending][:2] for ending in ENDINGS if ending != "works"]
    assert len(set(failing)) == len(failing)
    assert "ring" not in {shape for shape, _ in failing}
