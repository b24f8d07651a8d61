"""The obstacle assistant: a job on the drawing as it stands; its proposals are put onto a tier by one button."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse

from classroom.errors import InputError
from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import start_mission
from motion.errors import CancelledError
from motion.scene.files import scene_to_dict
from planning.feasibility.services.feasibility import find_feasibility, robots_for, scene_of
from planning.feasibility.services.obstacle_places import OBSTACLE_PLACES, ask_for_places, find_places
from planning.jobs.kinds import KINDS
from planning.jobs.progress import JobControl
from planning.models import Job, JobState
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
HX = {"HX-Request": "true"}
PLACES = {
    "proposals": [
        {
            "outline": [[1000, 300], [1220, 300], [1220, 350], [1000, 350]],
            "grade": grade,
            "plain_success": 0.8,
            "success": {"probability": success, "low": success - 0.1, "high": success + 0.15, "runs": 2000},
            "longer_s": 4.2,
            "duration_s": 31.5,
            "start": {"x_mm": 130, "y_mm": 220, "heading_deg": 0},
            "actions": [{"do": "drive", "distance_mm": 300}],
        }
        for grade, success in (("gentle", 0.75), ("hard", 0.3))
    ]
}


@pytest.fixture
def mission(cast: Any) -> Any:
    return start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=NOW)


def ask(client: Any, mission: Any, room: str = "2 cm", **headers: str) -> Any:
    data = {"room": room, "for_tier": "t2"}
    return client.post(reverse("obstacle_places", args=[mission.pk]), data, headers=headers)


def test_the_question_is_about_the_tier_that_is_shown(cast: Any, mission: Any) -> None:
    ask(cast.as_coach, mission, **HX)
    job = Job.objects.get(kind=OBSTACLE_PLACES)
    assert job.input["room_mm"] == 20
    assert job.input["scene"]["obstacles"][0]["name"] == "gravel bank"


def test_proposals_come_with_a_drawing_a_grade_and_a_button(cast: Any, mission: Any) -> None:
    look = ask(cast.as_coach, mission)
    Job.objects.update(state=JobState.DONE, result=PLACES)
    page = page_of(cast.as_coach.get(look.url))
    assert page.count("<svg") >= 2
    assert "Gentle" in page and "Hard" in page and "75 %" in page and "80 % without it" in page
    assert "(65 % to 90 %; 80 % without it)" in page and "(20 % to 45 %; 80 % without it)" in page
    assert 'data-step="put obstacle t2 1000,300 1220,300 1220,350 1000,350"' in page


def test_the_chances_say_what_they_rest_on(cast: Any, mission: Any) -> None:
    look = ask(cast.as_coach, mission)
    Job.objects.update(state=JobState.DONE, result=PLACES)
    said = "The chances are from 2,000 pretend runs,"
    page = page_of(cast.as_coach.get(look.url))
    assert said in page and "on a kit’s usual numbers" in page
    job = Job.objects.get()
    job.input["scene"]["noise"]["runs"] = 5
    job.save()
    assert "on 5 measured runs of the robot that was asked about" in page_of(cast.as_coach.get(look.url))


def test_when_no_place_does_it_the_words_say_what_to_ask_for(cast: Any, mission: Any) -> None:
    look = ask(cast.as_coach, mission)
    Job.objects.update(state=JobState.FAILED, error_words="No place was found; ask for less room.")
    assert "ask for less room" in page_of(cast.as_coach.get(look.url))


@pytest.mark.parametrize("room", ["", "NaN", "-1", "51 cm", "a lot"])
def test_a_room_that_makes_no_sense_is_refused_with_words(cast: Any, mission: Any, room: str) -> None:
    page = page_of(ask(cast.as_coach, mission, room, **HX))
    assert 'class="notice warning"' in page
    assert not Job.objects.exists()


def test_a_wrong_drawing_is_refused_before_any_search(cast: Any) -> None:
    document = first_document("Fog bell", 2400, 1200)
    document["start"]["x_mm"] = 500.0
    with pytest.raises(InputError, match="inside the base"):
        ask_for_places(cast.club, cast.coach, document, 0, cast.robot_a, 20.0, now=NOW)


def test_another_kind_of_job_is_no_answer(cast: Any, mission: Any) -> None:
    job = make.JobFactory(club=cast.club)
    assert cast.as_coach.get(reverse("obstacle_look", args=[mission.pk, job.pk]), {"tier": "t1"}).status_code == 404


@pytest.mark.parametrize("tier", ["", "T1", "t1 t2", "<b>", "t" * 40])
def test_a_tier_that_is_no_key_is_nothing(cast: Any, mission: Any, tier: str) -> None:
    ask(cast.as_coach, mission)
    job = Job.objects.get()
    assert cast.as_coach.get(reverse("obstacle_look", args=[mission.pk, job.pk]), {"tier": tier}).status_code == 404


def progress(stopped: bool = False) -> JobControl:
    return JobControl(tell=lambda *_: None, seconds_left=lambda: 100.0, stopped=lambda: stopped)


def test_a_search_that_was_stopped_keeps_nothing(cast: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    import motion.search.obstacle_places

    monkeypatch.setattr(motion.search.obstacle_places, "propose_obstacles", lambda *_, **__: [])
    scene = scene_to_dict(scene_of(first_document("Fog bell", 2400, 1200), 0, None, cast.club))
    with pytest.raises(CancelledError):
        find_places({"scene": scene, "room_mm": 20.0}, progress(stopped=True))


def test_the_kind_is_known_to_the_worker() -> None:
    assert KINDS[OBSTACLE_PLACES].work is find_places


@pytest.mark.slow
def test_the_planner_itself_answers_yes_no_and_where(cast: Any) -> None:
    """No stand-in: a new mission can be done, a bar across the table cannot, and a proposal blocks the easy way."""
    document = first_document("Fog bell", 2400, 1200)
    robot = robots_for(cast.club, "")[0]
    yes = find_feasibility({"scene": scene_to_dict(scene_of(document, 1, robot, cast.club))}, progress())
    assert yes["feasible"]
    assert yes["courses"]["fastest"]["duration_s"] <= yes["courses"]["steadiest"]["duration_s"]
    document["tiers"][1]["obstacles"] = [{"name": "bar", "outline": [[800, 0], [900, 0], [900, 1200], [800, 1200]]}]
    no = find_feasibility({"scene": scene_to_dict(scene_of(document, 1, robot, cast.club))}, progress())
    assert not no["feasible"] and no["words"]
    plain = scene_to_dict(scene_of(document, 0, robot, cast.club))
    found = find_places({"scene": plain, "room_mm": 20.0}, progress())["proposals"]
    assert found and all(len(place["outline"]) == 4 for place in found)


def test_its_pages_belong_to_missions_and_lead_back_to_the_editor(cast: Any, mission: Any) -> None:
    question = cast.as_coach.get(reverse("obstacle_places", args=[mission.pk]))
    for page in (page_of(question), page_of(cast.as_coach.get(ask(cast.as_coach, mission).url))):
        assert re.search(r'<a href="/missions/"[^>]*aria-current="page"', page)
        assert f'<p class="crumb"><a href="{reverse("mission_edit", args=[mission.pk])}">' in page
