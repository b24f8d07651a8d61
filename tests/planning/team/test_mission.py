"""Our mission: what there is to do, how to set it up, and what the next tier needs."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest

from classroom.models import SafetyCard
from missions.models import ChangeMark, Progress
from missions.readiness.services.evidence import refresh_evidence
from tests import factories as make
from tests.pages import page_of

pytestmark = pytest.mark.django_db


def page(cast: Any, path: str = "/team/mission/") -> str:
    """The words of the page, in one line."""
    shown = cast.as_team_a.get(path)
    assert shown.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(page_of(shown))).split())


def open_second_tier(cast: Any, **words: Any) -> Any:
    editions = make.mission_with_tiers(cast.club, **words)[1]
    make.ProgressFactory(team=cast.team_a, tier=editions[0].tier, state="passed")
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions


def test_a_mission_says_what_to_do_why_and_what_to_talk_about(cast: Any) -> None:
    SafetyCard.objects.create(club=cast.club, subject="Pinch points", text="Switch off before touching gears.")
    open_second_tier(
        cast,
        brief="Push the **tide gate** shut.",
        did_you_know="A tide gate opens by itself.",
        questions=["What did you measure twice?"],
        safety_notes="Stop it before you touch the wheels.",
    )
    said = page(cast)
    for words in (
        "Push the tide gate shut.",
        "A tide gate opens by itself.",
        "What did you measure twice?",
        "Stop it before you touch the wheels.",
        "Pinch points Switch off before touching gears.",
        "kit maker's instructions come first",
    ):
        assert words in said


def test_a_mission_shows_the_measures_to_set_it_up_on_a_drawing_and_in_a_table(cast: Any) -> None:
    edition = open_second_tier(cast)[1]
    said = page(cast)
    xs = [x for x, _ in edition.version.target["body"]]
    low, high = f"{min(xs) / 10:g}", f"{max(xs) / 10:g}"
    assert f"{low} B" in said and f"{high} B" in said, "running measures on the drawing, with the thing's letter"
    assert f"{low} to {high}" in said
    assert "Hook the tape at the table's near left corner." in said


def test_a_mission_says_what_to_fix_down_also_where_its_coach_wrote_nothing(cast: Any) -> None:
    edition = open_second_tier(cast, setup_steps=["Tape the gate's posts to the table."])[1]
    assert "What to fix down Tape the gate's posts to the table." in page(cast)
    edition.version.__class__.objects.update(setup_steps=[])
    assert "Fix down all that the robot must not move" in page(cast)


def test_a_mission_shows_which_tiers_are_open_and_what_the_next_one_needs(cast: Any) -> None:
    editions = open_second_tier(cast)
    said = page(cast)
    third = editions[2].tier
    assert "✓ Passed" in said and "Open, you are here" in said and f"3 {third.name} ○ Not open yet" in said
    assert f"What 3 {third.name} needs Log the first of at least five runs." in said
    assert "This tier is done Passed." in page(cast, f"/team/mission/?tier={editions[0].tier.pk}")
    make.ProgressFactory(team=cast.team_a, tier=third)
    assert "What is left to show" in page(cast, f"/team/mission/?tier={third.pk}")


def test_a_team_says_that_it_changed_something_and_is_asked_for_fresh_runs(cast: Any) -> None:
    editions = open_second_tier(cast)
    run = make.AttemptFactory(team=cast.team_a, tier_version=editions[1], robot=cast.robot_a)
    refresh_evidence(Progress.objects.get(team=cast.team_a, tier=editions[1].tier), run.made_at)
    assert "We changed something" in page(cast)
    sent = {"tier": editions[1].tier_id, "part": "tyres", "words": "back wheel"}
    shown = cast.as_team_a.post("/team/changed/", sent, follow=True)
    assert "Good to know. Your next runs show what the change does." in page_of(shown)
    assert "Log three runs as things are now." in page_of(shown)
    mark = ChangeMark.objects.get()
    assert (mark.team, mark.part, mark.words, mark.by) == (cast.team_a, "tyres", "back wheel", None)


def test_a_team_that_names_nothing_is_asked_what_was_changed(cast: Any) -> None:
    editions = open_second_tier(cast)
    shown = cast.as_team_a.post("/team/changed/", {"tier": editions[1].tier_id}, follow=True)
    assert "Choose what was changed." in page_of(shown) and not ChangeMark.objects.exists()


@pytest.mark.parametrize("tier", ["", "x", "999999"])
def test_a_tier_that_is_not_open_has_no_mark(cast: Any, tier: str) -> None:
    open_second_tier(cast)
    assert cast.as_team_a.post("/team/changed/", {"tier": tier, "part": "tyres"}).status_code == 404
