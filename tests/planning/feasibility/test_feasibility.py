"""Can it be done? One job for each geometry and robot; publishing hangs on its answer."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import newest_version, start_mission
from motion.errors import NoCourseError
from planning.feasibility.services import feasibility
from planning.feasibility.services.feasibility import (
    FeasibilityAnswer,
    FeasibilityQuestion,
    answers_to,
    ask_feasibility,
    find_feasibility,
    robots_for,
    scene_of,
    suggested_limit,
    verdict_of,
)
from planning.jobs.progress import JobControl
from planning.models import Job, JobState
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
FOUND = {
    "feasible": True,
    "courses": {
        aim: {
            "duration_s": seconds,
            "room_mm": 42.0,
            "success": {"probability": 0.84, "low": 0.8, "high": 0.87, "runs": 1000},
            "start": {"x_mm": 1, "y_mm": 2, "heading_deg": 0},
            "actions": [],
        }
        for aim, seconds in (("fastest", 38.0), ("simplest", 45.0), ("steadiest", 41.0))
    },
}
STUCK = {
    "feasible": False,
    "code": "no_course",
    "words": "The gap between the gravel bank and the edge is 14 cm; the robot needs 17 cm to turn there.",
    "tightest": None,
}


@pytest.fixture
def document():
    return first_document("Fog bell", 2400, 1200)


@pytest.fixture
def mission(cast, document):
    return start_mission(cast.club, cast.coach, document, now=NOW)


def ask(cast: Any, document: dict, choice: str = "", **more: Any) -> list[FeasibilityQuestion]:
    robots = robots_for(cast.club, choice)
    return ask_feasibility(cast.club, cast.coach, document, ["t1", "t2", "t3"], robots, now=NOW, **more)


def answer_all(result: dict[str, Any]) -> None:
    Job.objects.update(state=JobState.DONE, result=result)


def test_tiers_with_the_same_things_in_the_way_share_one_job(cast, document) -> None:
    asked = ask(cast, document)
    assert asked[1].job == asked[2].job != asked[0].job
    assert Job.objects.count() == 2


def test_the_same_drawing_is_not_asked_about_twice(cast, document) -> None:
    assert ask(cast, document) == ask(cast, document | {"title": "Renamed", "brief": "other words"})


def test_another_robot_is_another_question(cast, document) -> None:
    make.RobotFactory(club=cast.club, name="Kit 2", travel_footprint=[[[-50, -60], [120, -60], [120, 60], [-50, 60]]])
    asked = ask(cast, document, "all")
    assert [question.robot for question in asked] == ["Kit 1", "Kit 2"] * 3
    assert len({question.job for question in asked}) == 4


def test_a_robot_of_another_club_cannot_be_asked_about(cast) -> None:
    other = make.RobotFactory()
    assert robots_for(cast.club, str(other.pk)) == [cast.robot_a]
    assert robots_for(cast.club, "9" * 30) == [cast.robot_a]
    assert robots_for(make.ClubFactory(), "all") == [None]


def test_a_club_without_a_robot_is_answered_for_a_plain_one(db, document) -> None:
    scene = scene_of(document, 1, None, make.ClubFactory())
    assert scene.robot.footprint[0][1] == (150.0, -75.0)
    assert scene.obstacles[0].name == "gravel bank"


def test_each_robot_stands_as_far_back_as_its_nose_is_long(cast, document) -> None:
    long = make.RobotFactory(club=cast.club, travel_footprint=[[[-50, -75], [260, -75], [260, 75], [-50, 75]]])
    x = document["target"]["contact"]["x_mm"]
    assert feasibility.scene_of(document, 0, cast.robot_a, cast.club).target.precontact.x_mm == x - 230
    assert feasibility.scene_of(document, 0, long, cast.club).target.precontact.x_mm == x - 290


def test_a_wrong_drawing_is_answered_at_once_without_a_job(cast, document) -> None:
    document["start"]["x_mm"] = 500.0
    (first, *_) = answers_to(cast.club, ask(cast, document))
    assert first.verdict.feasible is False
    assert "inside the base" in first.verdict.words
    assert not Job.objects.exists()


def test_a_newer_question_stops_the_one_before(cast, document) -> None:
    before = ask(cast, document)
    document["tiers"][0]["obstacles"] = document["tiers"][1]["obstacles"]
    asked = ask(cast, document, before=before)
    states = dict(Job.objects.values_list("pk", "state"))
    assert states[before[0].job] == JobState.CANCELLED
    assert states[asked[0].job] == JobState.WAITING


def test_another_coachs_question_is_left_alone(cast, document) -> None:
    before = ask(cast, document)
    changed = document | {"margin_mm": 9.0}
    ask_feasibility(
        cast.club, cast.assistant, changed, ["t1", "t2", "t3"], robots_for(cast.club, ""), now=NOW, before=before
    )
    assert not Job.objects.filter(state=JobState.CANCELLED).exists()


def test_what_cannot_be_done_is_an_answer_and_not_a_failure(cast, document, monkeypatch) -> None:
    def no_course(scene: Any, **_: Any) -> None:
        raise NoCourseError("no_course", STUCK["words"], {"gap_mm": 140})

    mended = NoCourseError("no_course", STUCK["words"], {"gap_mm": 140}, mend={"label": "2 cm"})
    monkeypatch.setattr("motion.search.mending.with_mend", lambda scene, error, **_: mended)
    monkeypatch.setattr("motion.search.plan.plan_courses", no_course)
    from motion.scene.files import scene_to_dict

    job_input = {"scene": scene_to_dict(scene_of(document, 1, cast.robot_a, cast.club))}
    progress = JobControl(tell=lambda *_: None, seconds_left=lambda: 60.0, stopped=lambda: False)
    assert find_feasibility(job_input, progress) == STUCK | {"tightest": {"gap_mm": 140}, "mend": {"label": "2 cm"}}


QUESTION = FeasibilityQuestion("t3", "Timed", "timed", 75.0, "Kit 1", 1)


@pytest.mark.parametrize(
    ("state", "result", "limit", "feasible", "words"),
    [
        ("waiting", None, 75.0, None, ""),
        ("running", None, 75.0, None, ""),
        ("failed", None, 75.0, None, "broke"),
        ("cancelled", None, 75.0, None, "ask again"),
        ("done", STUCK, 75.0, False, "14 cm"),
        ("done", FOUND, 75.0, True, "4.2 cm"),
        ("done", FOUND, 38.0, True, "4.2 cm"),
        ("done", FOUND, 37.9, False, "Even the fastest course found takes 38.0 s; the limit is 37.9 s"),
    ],
)
def test_the_verdict_says_yes_no_or_not_known_and_why(state, result, limit, feasible, words) -> None:
    job = Job(state=state, result=result, error_words="It broke." if state == "failed" else "")
    question = FeasibilityQuestion(**QUESTION.__dict__ | {"limit_s": limit})
    verdict = verdict_of(job, question, "cm")
    assert verdict.feasible is feasible
    assert words in verdict.words


def test_a_limit_is_suggested_from_the_slowest_robot_with_a_quarter_to_spare() -> None:
    slow = {"feasible": True, "courses": {"steadiest": FOUND["courses"]["steadiest"] | {"duration_s": 50.1}}}
    jobs = [Job(state=JobState.DONE, result=result) for result in (FOUND, slow)]
    answers = [FeasibilityAnswer(QUESTION, job, verdict_of(job, QUESTION, "cm")) for job in jobs]
    assert suggested_limit(answers) == 65.0  # 50.1 x 1.25 = 62.6
    waiting = Job(state=JobState.WAITING)
    assert (
        suggested_limit([*answers, FeasibilityAnswer(QUESTION, waiting, verdict_of(waiting, QUESTION, "cm"))]) is None
    )
    assert suggested_limit([]) is None


def panel(client: Any, mission: Any, data: dict, **headers: str) -> Any:
    return client.post(reverse("feasibility_panel", args=[mission.pk]), data, headers=headers)


def test_the_saved_draft_is_asked_about_without_a_script(cast, mission) -> None:
    look = panel(cast.as_coach, mission, {"robot": ""})
    assert look.status_code == 302
    page = page_of(cast.as_coach.get(look.url))
    assert page.count("Waiting for its turn") == 3
    answer_all(FOUND)
    page = page_of(cast.as_coach.get(look.url))
    assert page.count("✓ Can be done") == 3
    assert "84 %" in page and "80 %" in page and "1,000 pretend runs" in page
    assert "a limit of <b>55 s</b>" in page


def test_a_limit_from_one_robot_says_that_the_others_can_be_asked_too(cast, mission) -> None:
    words = "Ask with all robots to leave room for the slowest."
    look = panel(cast.as_coach, mission, {"robot": ""})
    answer_all(FOUND)
    assert words not in page_of(cast.as_coach.get(look.url))
    make.RobotFactory(club=cast.club, name="Kit 2")
    assert words in page_of(cast.as_coach.get(look.url))
    look = panel(cast.as_coach, mission, {"robot": "all"})
    answer_all(FOUND)
    page = page_of(cast.as_coach.get(look.url))
    assert words not in page and "the slowest of 2 robots" in page


@pytest.mark.parametrize(
    ("runs", "words"),
    [(None, "on a kit’s usual numbers, since Kit 1 is not measured"), (14, "on 14 measured runs of Kit 1")],
)
def test_a_predicted_success_says_what_it_rests_on(cast, mission, runs, words) -> None:
    look = panel(cast.as_coach, mission, {"robot": ""})
    answer_all(FOUND)
    for job in Job.objects.all():
        job.input["scene"]["noise"]["runs"] = runs
        job.save()
    page = " ".join(page_of(cast.as_coach.get(look.url)).split())
    assert words in page


def test_the_fragment_stops_asking_once_all_is_known(cast, mission) -> None:
    first = page_of(panel(cast.as_coach, mission, {}, **{"HX-Request": "true"}))
    assert 'hx-trigger="every 1s"' in first
    answer_all(STUCK)
    second = page_of(panel(cast.as_coach, mission, {}, **{"HX-Request": "true"}))
    assert "hx-trigger" not in second
    assert second.count("✕ Cannot be done") == 3
    assert "14 cm" in second


@pytest.mark.parametrize("ask", ["", "x", "eyJ0aWVyIjoxfQ:1abc:sig"])
def test_a_question_that_was_not_signed_here_is_nothing(cast, mission, ask: str) -> None:
    assert cast.as_coach.get(reverse("feasibility_look", args=[mission.pk]), {"ask": ask}).status_code == 404


def test_answers_of_another_club_stay_unseen(cast, mission, document) -> None:
    other = make.CoachFactory()
    make.RobotFactory(club=other.club)
    theirs = ask_feasibility(other.club, other, document, ["a", "b", "c"], robots_for(other.club, ""), now=NOW)
    answer_all(FOUND)
    assert all(answer.job is None for answer in answers_to(cast.club, theirs))


def publish(client: Any, mission: Any, **data: str) -> Any:
    return client.post(reverse("mission_publish", args=[mission.pk]), data, follow=False)


def seen(mission: Any) -> str:
    from missions.ladder.services.edit_mission import seen_mark

    return seen_mark(newest_version(mission))


def test_nothing_is_published_before_every_tier_has_been_checked(cast, mission) -> None:
    page = page_of(cast.as_coach.get(reverse("mission_publish", args=[mission.pk])))
    assert "check all tiers first" in page
    assert 'value="publish"' not in page
    publish(cast.as_coach, mission, do="publish", seen=seen(mission))
    assert newest_version(mission).published_at is None


def test_an_impossible_tier_shows_why_and_is_never_published(cast, mission) -> None:
    publish(cast.as_coach, mission, do="check")
    answer_all(STUCK)
    page = page_of(cast.as_coach.get(reverse("mission_publish", args=[mission.pk])))
    assert "14 cm" in page and 'value="publish"' not in page
    publish(cast.as_coach, mission, do="publish", seen=seen(mission))
    assert newest_version(mission).published_at is None


def test_a_possible_mission_is_published(cast, mission) -> None:
    publish(cast.as_coach, mission, do="check")
    answer_all(FOUND)
    url = reverse("mission_publish", args=[mission.pk])
    assert 'value="publish"' in page_of(cast.as_coach.get(url))
    assert publish(cast.as_coach, mission, do="publish", seen=seen(mission)).status_code == 302
    assert newest_version(mission).published_at is not None
    assert "There is no draft" in page_of(cast.as_coach.get(url))


def test_a_limit_nobody_can_keep_is_not_published(cast, mission) -> None:
    tier = newest_version(mission).tier_versions.get(tier__kind="timed")
    tier.time_limit_s = 20
    tier.save()
    publish(cast.as_coach, mission, do="check")
    answer_all(FOUND)
    publish(cast.as_coach, mission, do="publish", seen=seen(mission))
    assert newest_version(mission).published_at is None


def test_an_answer_for_an_earlier_drawing_does_not_count(cast, mission) -> None:
    publish(cast.as_coach, mission, do="check")
    answer_all(FOUND)
    draft = newest_version(mission)
    draft.tier_versions.filter(tier__order=2).update(
        obstacles=[{"name": "bar", "outline": [[600, 0], [700, 0], [700, 1200], [600, 1200]]}]
    )
    publish(cast.as_coach, mission, do="publish", seen=seen(mission))
    assert newest_version(mission).published_at is None


def test_looking_starts_no_work(cast, mission) -> None:
    for name in ("mission_publish", "feasibility_panel"):
        cast.as_coach.get(reverse(name, args=[mission.pk]))
    assert not Job.objects.exists()


def test_the_kind_is_known_to_the_worker() -> None:
    from planning.jobs.kinds import KINDS

    assert KINDS[feasibility.FEASIBILITY].work is find_feasibility


@pytest.mark.parametrize(("told", "any_order"), [({}, False), ({"order": "any"}, True), ({"order": "given"}, False)])
def test_several_targets_are_pushed_in_any_order_only_where_the_mission_says_so(cast, told, any_order):
    document = first_document("Fog bell", 2400, 1200)
    document["tiers"][0] |= {"more_targets": [make.CRATE]} | told
    assert feasibility.scene_of(document, 0, cast.robot_a, cast.club).any_order is any_order
