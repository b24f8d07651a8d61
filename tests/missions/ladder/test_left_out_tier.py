"""A tier that the newest version leaves out: no longer offered, its runs and decisions kept and shown as such."""

from __future__ import annotations

import datetime as dt
from copy import deepcopy
from uuid import uuid4

import pytest
from django.urls import reverse

from classroom.errors import InputError
from missions.day.pages.teams import teams_of_day
from missions.family.drafts import draft_words
from missions.family.pages import summary_for
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version, save_draft, seen_mark
from missions.ladder.services.publish_mission import Verdict, publish_mission
from missions.models import Attempt, Mission, Progress
from missions.readiness.pages.board import read_board
from missions.readiness.services.progress import close_tier, open_tier, pass_tier, reopen
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
LATER = NOW + dt.timedelta(minutes=5)


def publish_tiers(mission: Mission, coach, keep: list[int | None], at=LATER) -> None:
    """Publish the next version with the tiers at these places of the newest only; None adds a plain one."""
    newest = newest_version(mission)
    document = deepcopy(document_of(newest, typical_nose(mission.club)))
    ids = list(newest.tier_versions.values_list("tier_id", flat=True))
    one_more = {**deepcopy(document["tiers"][0]), "name": "Warm-up"}
    document["tiers"] = [one_more if i is None else document["tiers"][i] for i in keep]
    seen = seen_mark(newest)
    tier_ids = [None if i is None else ids[i] for i in keep]
    draft = save_draft(mission, document, tier_ids, coach=coach, seen=seen, now=at)
    verdicts = {pk: Verdict(True) for pk in draft.tier_versions.values_list("tier_id", flat=True)}
    publish_mission(mission, coach=coach, seen=seen_mark(draft), verdicts=verdicts, now=at)


@pytest.fixture
def ladder(cast):
    """Curlew have passed the plain route and work on the second tier; then a version without it is published."""
    mission, rows = make.mission_with_tiers(cast.club)
    plain, bank, timed = (row.tier for row in rows)
    make.ProgressFactory(team=cast.team_a, tier=plain, state="passed", passed_at=NOW - dt.timedelta(days=9))
    make.ProgressFactory(team=cast.team_a, tier=bank)
    make.AttemptFactory(team=cast.team_a, tier_version=rows[1], made_at=NOW - dt.timedelta(days=2))
    publish_tiers(mission, cast.coach, [0, 2])
    for tier in (plain, bank, timed):
        tier.refresh_from_db()
    return mission, plain, bank, timed


def test_a_tier_that_is_left_out_says_since_when_and_keeps_progress_and_runs(cast, ladder) -> None:
    _, plain, bank, _ = ladder
    assert (bank.left_out_at, plain.left_out_at) == (LATER, None)
    assert Progress.objects.get(team=cast.team_a, tier=bank).state == "working"
    assert Attempt.objects.filter(tier=bank).count() == 1


def test_those_that_are_offered_stand_first_and_the_next_tier_asks_about_the_one_below_it(cast, ladder) -> None:
    mission, plain, bank, timed = ladder
    assert list(mission.tiers.values_list("pk", "order")) == [(plain.pk, 1), (timed.pk, 2), (bank.pk, 3)]
    assert open_tier(cast.coach, cast.team_a, timed, "", LATER).state == "working"


def test_a_draft_that_leaves_a_tier_out_does_not_do_so_yet(cast) -> None:
    mission, rows = make.mission_with_tiers(cast.club)
    newest = newest_version(mission)
    document = document_of(newest, typical_nose(mission.club))
    document["tiers"] = document["tiers"][:1]
    save_draft(mission, document, [rows[0].tier_id], coach=cast.coach, seen=seen_mark(newest), now=LATER)
    assert not mission.tiers.exclude(left_out_at=None).exists()
    assert len(read_board(cast.club, LATER, mission.pk).rungs) == 3


def test_a_tier_that_comes_back_is_offered_again(cast) -> None:
    mission, rows = make.mission_with_tiers(cast.club)
    bank = rows[1].tier
    publish_tiers(mission, cast.coach, [0, 2])
    newest = newest_version(mission)
    document = deepcopy(document_of(newest, typical_nose(mission.club)))
    document["tiers"].insert(1, {**document["tiers"][0], "name": "Past the bank"})
    ids = [rows[0].tier_id, bank.pk, rows[2].tier_id]
    draft = save_draft(mission, document, ids, coach=cast.coach, seen=seen_mark(newest), now=LATER)
    publish_mission(
        mission, coach=cast.coach, seen=seen_mark(draft), verdicts={pk: Verdict(True) for pk in ids}, now=LATER
    )
    bank.refresh_from_db()
    assert (bank.left_out_at, bank.order, bank.name) == (None, 2, "Past the bank")


def test_the_board_names_it_below_the_table_with_the_team_one_tap_from_its_evidence(cast, ladder) -> None:
    mission, _, bank, _ = ladder
    board = read_board(cast.club, LATER, mission.pk)
    assert [rung.tier.pk for rung in board.rungs] == [ladder[1].pk, ladder[3].pk]
    assert [(line.tier.pk, [cell.team_id for _, cell in line.cells]) for line in board.left_out] == [
        (bank.pk, [cast.team_a.pk])
    ]
    page = page_of(cast.as_coach.get(reverse("board_mission", args=[mission.pk])))
    assert "No longer offered" in page
    assert reverse("evidence", args=[cast.team_a.pk, bank.pk]) in page


def test_a_mission_without_one_says_nothing_of_it(cast) -> None:
    mission, _ = make.mission_with_tiers(cast.club)
    assert "No longer offered" not in page_of(cast.as_coach.get(reverse("board_mission", args=[mission.pk])))


def test_a_team_that_worked_on_it_needs_the_coach(cast, ladder) -> None:
    needs = read_board(cast.club, LATER, ladder[0].pk).needs
    mine = [need for need in needs if need.kind == "left_out"]
    assert [(need.team, need.tier_id) for need in mine] == [("Curlew", ladder[2].pk)]
    assert "no longer offered" in mine[0].words


def test_the_need_goes_once_a_coach_has_closed_it(cast, ladder) -> None:
    close_tier(cast.coach, cast.team_a, ladder[2], "The tier is gone.", LATER)
    assert not [n for n in read_board(cast.club, LATER, ladder[0].pk).needs if n.kind == "left_out"]


def test_its_evidence_page_shows_the_runs_and_offers_only_to_pass_or_close_it(cast, ladder) -> None:
    bank = ladder[2]
    page = cast.as_coach.get(reverse("evidence", args=[cast.team_a.pk, bank.pk]))
    text = page_of(page)
    assert page.status_code == 200
    assert "no longer offered" in text
    assert reverse("decide", args=[cast.team_a.pk, bank.pk, "close"]) in text
    assert reverse("decide", args=[cast.team_a.pk, bank.pk, "pass"]) in text
    assert reverse("decide", args=[cast.team_a.pk, bank.pk, "hold"]) not in text


@pytest.mark.parametrize("state", ["not_open", "passed"])
def test_nobody_is_put_to_work_on_it_any_more(cast, ladder, state) -> None:
    bank = ladder[2]
    Progress.objects.filter(tier=bank).update(state=state)
    act = open_tier if state == "not_open" else reopen
    with pytest.raises(InputError) as caught:
        act(cast.coach, cast.team_a, bank, "Try it.", LATER)
    assert caught.value.code == "left_out"


def test_it_can_still_be_signed_as_passed(cast, ladder) -> None:
    assert pass_tier(cast.coach, cast.team_a, ladder[2], "They had it.", LATER).state == "passed"


def test_a_run_that_was_made_before_and_sent_after_is_kept(cast, ladder) -> None:
    run = AttemptInput(
        uuid=uuid4(),
        tier_id=ladder[2].pk,
        made_at=NOW,
        duration_s=40.0,
        outcomes={"left_base": True, "done": True, "home": True},
    )
    attempt, new = record_attempt(cast.team_a, run, now=LATER)
    assert new and attempt.tier_version.version.number == 1


def test_the_tablet_offers_the_tier_that_is_left_and_says_what_became_of_the_other(cast, ladder) -> None:
    text = page_of(cast.as_team_a.get(reverse("team_mission")))
    assert "Plain route" in text
    assert "No longer offered" in text


def test_a_tablet_that_stands_on_it_still_sees_it_and_is_told(cast, ladder) -> None:
    got = cast.as_team_a.get(reverse("team_mission") + f"?tier={ladder[2].pk}")
    assert got.status_code == 200
    assert "no longer offered" in page_of(got)


def test_a_team_with_nothing_else_open_is_told_why(cast, ladder) -> None:
    Progress.objects.filter(team=cast.team_a, tier=ladder[1]).delete()
    text = page_of(cast.as_team_a.get(reverse("team_mission")))
    assert "With obstacle" in text
    assert "no longer offered" in text


def test_today_puts_nobody_at_it(cast, ladder) -> None:
    session = make.SessionFactory(term__club=cast.club, starts_at=NOW)
    tiers = {day.team.name: day.tier for day in teams_of_day(session)}
    assert ladder[2] not in tiers.values()


def test_a_family_reads_of_the_work_that_goes_on_only(cast, ladder) -> None:
    assert draft_words(cast.member_a, now=NOW).working_on == "Getting ready for the next mission."


def test_a_family_still_reads_that_a_tier_was_passed_which_is_no_longer_offered(cast, ladder) -> None:
    Progress.objects.filter(tier=ladder[2]).update(state="passed", passed_at=NOW)
    rungs = summary_for(cast.member_a, now=LATER).rungs
    assert [(rung.tier, rung.state) for rung in rungs] == [("plain route", "passed"), ("with obstacle", "passed")]
