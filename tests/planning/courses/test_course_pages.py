"""What a coach sees of courses: the card, its numbers, what it rests on, and what happens when the robot is measured."""

from __future__ import annotations

import pytest
from django.urls import reverse

from classroom.robots.services.calibrate import record_calibration
from motion.chance.hypotheses import COUNT
from motion.chance.montecarlo import RUNS_EACH
from motion.course.actions import Push
from planning.courses.pages.card import card_of
from planning.courses.scene_for import pose_of
from planning.courses.services.save_revision import save_revision
from planning.models import Course, Job, JobState
from tests import factories as make
from tests.pages import page_of
from tests.planning.planned_courses import THERE_AND_BACK, planned


@pytest.fixture
def tiers(cast):
    return make.mission_with_tiers(cast.club)[1]


@pytest.fixture
def course(cast, tiers) -> Course:
    return planned(cast.team_a, tiers[0], cast.robot_a)


def measure(robot, *readings: float, commanded: float = 1000) -> None:
    runs = [{"commanded_mm": commanded, "measured_mm": each} for each in readings]
    record_calibration(robot, "straight", "table", runs, now=make.NOW)


def page(client, course) -> str:
    response = client.get(reverse("course", args=[course.pk]))
    assert response.status_code == 200
    return page_of(response)


def test_the_test_course_is_clear(course):
    assert card_of(course).check.clear


def test_the_card_has_the_map_the_numbers_and_the_chance_with_what_it_rests_on(cast, course):
    text = page(cast.as_coach, course)
    assert 'class="chart"' in text
    assert "159 cm" in text
    assert "13°" in text
    assert "in 100" in text
    assert f"From {COUNT * RUNS_EACH:,} pretend runs" in text, "so many of every robot that this one might be"
    assert "has not been measured yet" in text
    assert "chosen together" in text


def test_measuring_straight_runs_changes_the_numbers_on_the_card(cast, course):
    """The robot goes 2 % too far, so it is told 2 % less: 1590 / 1.02 = 1558.8, which is 156 cm in whole steps."""
    assert "159 cm" in page(cast.as_coach, course)
    measure(cast.robot_a, 1019, 1020, 1021, 1020, 1020)
    text = page(cast.as_coach, course)
    assert "156 cm" in text
    assert "159 cm" not in text
    assert "has been measured again since this plan was made" in text
    assert "How far it drives: 5 straight runs, 18 November." in text


def test_what_to_expect_is_of_the_numbers_shown(cast, course):
    measure(cast.robot_a, 1019, 1020, 1021, 1020, 1020)
    card = card_of(course)
    driven = [action.distance_mm for action in card.actions if action.do == "drive"]
    assert driven[0] == pytest.approx(1560 * 1.02, abs=0.5)
    assert card.check.poses[2].x_mm == pytest.approx(120 + 1560 * 1.02 * 0.97437, abs=1)


def test_a_course_that_no_longer_is_clear_says_so_and_is_not_shown(cast, course):
    """A robot that goes 30 % too far in whole steps of half a metre: no rounding saves that."""
    robot = cast.robot_a
    robot.distance_step_mm = 500
    robot.save()
    measure(robot, 1299, 1300, 1301)
    course = Course.objects.get(pk=course.pk)
    assert "Not clear" in page(cast.as_coach, course)
    response = cast.as_coach.post(reverse("course_show", args=[course.pk]), follow=True)
    assert "Ask for a new one" in page_of(response)
    course.refresh_from_db()
    assert course.shown_to_team_at is None


def test_a_teams_own_numbers_stay_what_it_typed(cast, tiers):
    """The team's robot was told 159 cm; that the robot is known better now changes where it leads, not what was typed."""
    start = pose_of(tiers[0].version.start)
    own = save_revision(cast.team_a, tiers[0], cast.robot_a, start, THERE_AND_BACK, now=make.NOW)
    measure(cast.robot_a, 1019, 1020, 1021, 1020, 1020)
    text = page(cast.as_coach, own)
    assert "159 cm" in text
    assert "since the team typed this" in text
    reached = card_of(Course.objects.get(pk=own.pk)).check.poses[2].x_mm
    assert reached == pytest.approx(120 + 1590 * 1.02 * 0.97437, abs=1)


def test_a_robot_built_anew_is_said(cast, course):
    cast.robot_a.changed_at = make.NOW.replace(year=2027)
    cast.robot_a.save()
    assert "built differently since" in page(cast.as_coach, course)


def test_a_plan_over_an_old_map_is_said(cast, tiers, course):
    newer = make.MissionVersionFactory(mission=tiers[0].version.mission, number=2)
    make.TierVersionFactory(tier=tiers[0].tier, version=newer, obstacles=[make.GRAVEL_BANK])
    assert "over the old map" in page(cast.as_coach, course)


def test_a_newer_version_with_the_same_map_calls_no_plan_old(cast, tiers, course):
    newer = make.MissionVersionFactory(mission=tiers[0].version.mission, number=2, title="Sluice gate")
    make.TierVersionFactory(tier=tiers[0].tier, version=newer, name="First go")
    assert "over the old map" not in page(cast.as_coach, course)


def test_the_clubs_unit_is_used(cast, course):
    cast.club.unit = "in"
    cast.club.save()
    assert "62.6 in" in page(cast.as_coach, course)


def test_showing_a_course_lets_its_team_see_it_and_taking_it_back_hides_it(cast, course):
    before = cast.club.live_version
    cast.as_coach.post(reverse("course_show", args=[course.pk]))
    assert Course.objects.visible_to_team().filter(pk=course.pk).exists()
    cast.club.refresh_from_db()
    assert cast.club.live_version > before
    assert cast.club.audit_entries.filter(verb="showed course").count() == 1
    cast.as_coach.post(reverse("course_show", args=[course.pk]), {"take_back": "1"})
    assert not Course.objects.visible_to_team().filter(pk=course.pk).exists()


def test_all_teams_cards_print_in_one_go_and_name_who_has_none(cast, tiers, course):
    cast.as_coach.post(reverse("course_show", args=[course.pk]))
    text = page_of(cast.as_coach.get(reverse("tier_cards", args=[tiers[0].tier_id])))
    assert text.count('<article class="leaf') == 1
    assert "Print 1 card" in text
    assert f'href="{reverse("course_ask", args=[cast.team_b.pk, tiers[0].tier_id])}">Plover' in text


def test_a_course_that_was_not_shown_is_not_among_the_cards_to_hand_out(cast, tiers, course):
    text = page_of(cast.as_coach.get(reverse("tier_cards", args=[tiers[0].tier_id])))
    assert '<article class="leaf' not in text


# Asking, and the page of the job


def ask(cast, tier, **data):
    return cast.as_coach.post(
        reverse("course_ask", args=[cast.team_a.pk, tier.tier_id]), {"aim": "fastest", "alternatives": "1", **data}
    )


def test_asking_makes_a_job_and_leads_to_its_page(cast, tiers):
    response = ask(cast, tiers[0])
    job = Job.objects.get()
    assert response.url == reverse("job", args=[job.pk])
    assert (job.state, job.team, job.input["aim"]) == (JobState.WAITING, cast.team_a, "fastest")
    assert job.input["scene"]["format"] == "helmroom.scene/1"


def test_asking_the_same_again_leads_to_the_same_job_until_the_robot_is_measured(cast, tiers):
    first, again, other_aim = ask(cast, tiers[0]), ask(cast, tiers[0]), ask(cast, tiers[0], aim="simplest")
    assert first.url == again.url != other_aim.url
    measure(cast.robot_a, 1019, 1020, 1021)
    assert ask(cast, tiers[0]).url != first.url


def test_the_most_steps_may_be_left_empty_and_are_named_when_they_cannot_be(cast, tiers):
    ask(cast, tiers[0], most_steps="")
    assert "most_steps" not in Job.objects.get().input
    ask(cast, tiers[0], most_steps="9")
    assert Job.objects.latest("pk").input["most_steps"] == 9
    assert "greater than or equal to 3" in page_of(ask(cast, tiers[0], most_steps="2"))
    assert Job.objects.count() == 2


def test_what_steps_cost_and_gain_is_said_until_the_robot_is_measured_again(cast, course):
    trade = "Beside the steadiest course of 7 steps: 2 more steps, 2.0 s more: 5 more of 100 runs work."
    Course.objects.filter(pk=course.pk).update(note=trade)
    assert trade in page_of(cast.as_coach.get(reverse("course", args=[course.pk])))
    measure(cast.robot_a, 1019, 1020, 1021)
    assert trade not in page_of(cast.as_coach.get(reverse("course", args=[course.pk])))


def test_a_team_without_a_robot_is_told_what_to_do(cast, tiers):
    cast.robot_a.assignments.all().delete()
    response = ask(cast, tiers[0])
    assert "has no robot" in page_of(response)
    assert not Job.objects.exists()


def test_a_form_keeps_what_was_chosen(cast, tiers):
    response = ask(cast, tiers[0], aim="prettiest", alternatives="2")
    text = page_of(response)
    assert response.status_code == 200
    assert '<option value="2" selected>' in text
    assert "prettiest is not one of the available choices" in text


def test_a_running_job_says_what_it_is_doing_and_can_be_stopped(cast, tiers):
    ask(cast, tiers[0])
    Job.objects.update(state="running", progress=0.35, progress_words="Trying wide ways round")
    job = Job.objects.get()
    text = page_of(cast.as_coach.get(reverse("job", args=[job.pk])))
    assert "Trying wide ways round" in text
    assert 'value="0.350"' in text
    assert 'hx-trigger="every 500ms"' in text
    cast.as_coach.post(reverse("job_cancel", args=[job.pk]))
    assert "Stopping" in page_of(cast.as_coach.get(reverse("job", args=[job.pk])))


@pytest.mark.parametrize("state", ["failed", "cancelled"])
def test_a_search_without_a_course_has_one_way_to_ask_anew(cast, tiers, state):
    ask(cast, tiers[0])
    Job.objects.update(state=state)
    text = page_of(cast.as_coach.get(reverse("job", args=[Job.objects.get().pk])))
    assert text.count(f'href="{reverse("course_ask", args=[cast.team_a.pk, tiers[0].tier_id])}"') == 1


def test_a_quiet_poll_costs_nothing(cast, tiers):
    ask(cast, tiers[0])
    url = reverse("job", args=[Job.objects.get().pk])
    first = cast.as_coach.get(url, headers={"HX-Request": "true"})
    assert "<html" not in page_of(first)
    again = cast.as_coach.get(url, headers={"HX-Request": "true", "If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_job_that_is_done_shows_map_and_legs_and_asks_no_more(cast, tiers):
    ask(cast, tiers[0])
    job = Job.objects.get()
    planned(cast.team_a, tiers[0], cast.robot_a, job=job)
    Job.objects.update(state="done", progress=1)
    text = page_of(cast.as_coach.get(reverse("job", args=[job.pk]), headers={"HX-Request": "true"}))
    assert 'class="chart"' in text
    assert "159 cm" in text
    assert "hx-trigger" not in text


def test_alternatives_stand_side_by_side_with_what_each_costs_and_risks(cast, tiers):
    ask(cast, tiers[0], alternatives="2")
    job = Job.objects.get()
    for aim in ("steadiest", "fastest"):
        planned(cast.team_a, tiers[0], cast.robot_a, job=job, aim=aim)
    Job.objects.update(state="done", progress=1)
    text = page_of(cast.as_coach.get(reverse("job", args=[job.pk])))
    assert "2 courses: what each costs and risks" in text
    assert text.count('class="chart"') == 2


def test_a_job_without_an_answer_says_why_and_draws_the_tightest_place(cast, tiers):
    ask(cast, tiers[0])
    tightest = {
        "gap_mm": 140.0,
        "needed_mm": 170.0,
        "x_mm": 800.0,
        "y_mm": 300.0,
        "between": ["gravel bank", "near edge"],
        "segment": [[800.0, 230.0], [800.0, 370.0]],
    }
    words = "The gap between the gravel bank and the edge is 14 cm; your robot needs 17 cm."
    Job.objects.update(state="failed", error_code="no_way", error_words=words, result={"tightest": tightest})
    text = page_of(cast.as_coach.get(reverse("job", args=[Job.objects.get().pk])))
    assert words in text
    assert "chart-tightest" in text


def test_a_job_of_another_club_does_not_exist(cast, tiers):
    ask(cast, tiers[0])
    assert cast.as_other_coach.get(reverse("job", args=[Job.objects.get().pk])).status_code == 404


def test_a_run_s_plan_is_one_tap_from_its_evidence(cast, course, tiers):
    make.ProgressFactory(team=cast.team_a, tier=tiers[0].tier)
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[0], tier=tiers[0].tier, plan_number=course.number)
    evidence = page_of(cast.as_coach.get(reverse("evidence", args=[cast.team_a.pk, tiers[0].tier.pk])))
    link = reverse("course_by_number", args=[cast.team_a.pk, tiers[0].tier.pk, course.number])
    assert f'href="{link}"' in evidence
    assert cast.as_coach.get(link).url == reverse("course", args=[course.pk])


def test_a_plan_number_that_is_not_there_is_not_found(cast, course, tiers):
    link = reverse("course_by_number", args=[cast.team_a.pk, tiers[0].tier.pk, course.number + 1])
    assert cast.as_coach.get(link).status_code == 404


@pytest.mark.parametrize(("unit", "words"), [("cm", "cm past where"), ("in", "in past where"), ("mm", "mm past where")])
def test_what_is_not_clear_is_said_in_the_club_s_unit(cast, tiers, unit, words):
    cast.club.unit = unit
    cast.club.save()
    start = pose_of(tiers[0].version.start)
    further = tuple(Push(action.distance_mm + 40) if action.do == "push" else action for action in THERE_AND_BACK)
    own = save_revision(cast.team_a, tiers[0], cast.robot_a, start, further, now=make.NOW)
    text = page(cast.as_coach, own)
    assert words in text and (unit == "mm") == (" mm past" in text)


def test_printed_cards_say_what_has_changed_since_they_were_last_drawn(cast, tiers, course):
    course.shown_to_team_at = make.NOW
    course.save()
    address = reverse("tier_cards", args=[tiers[0].tier_id])

    def printed() -> str:
        return page_of(cast.as_coach.get(address))

    changes = [
        ("159 cm", "1590 mm", lambda: change(cast.club, unit="mm")),
        (cast.robot_a.name, "Mudlark", lambda: change(cast.robot_a, name="Mudlark")),
        (cast.team_a.name, "Bearded tits", lambda: change(cast.team_a, name="Bearded tits")),
        ("turn to ", "turn by ", lambda: change(cast.robot_a, yaw_reference="relative")),
        ("1590 mm", "1560 mm", lambda: measure(cast.robot_a, 1019, 1020, 1021, 1020, 1020)),
        ("From", "Aus", lambda: change(cast.club, locale="de")),
    ]
    for old, new, act in changes:
        before = printed()
        assert old in before and new not in before, (old, new)
        act()
        assert new in printed(), new


def change(row, **values) -> None:
    for name, value in values.items():
        setattr(row, name, value)
    row.save()
