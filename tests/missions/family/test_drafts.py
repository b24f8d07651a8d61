"""Drafts that differ by what a child's team did while it was there and, where the club tells it, by what it did itself."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from classroom.families.share_summary import approved_words, write_words
from classroom.models import Attendance, AuditEntry, Club, Member, SummaryWords
from classroom.records.services.erase_child import erase_child
from missions.family.drafts import draft_due, draft_team, draft_words, due
from missions.family.own_jobs import jobs_of, one_job_each
from missions.family.pages import summary_for
from missions.models import RotaTurn, TeamJob
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
DAY = dt.timedelta(days=1)
WORDS = {"learnt": "Tape", "working_on": "Turns", "ask_at_home": "Why?"}


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def team(cast):
    """Four children; two tiers passed, one open, two causes named; a session a week ago with four turns at a table."""
    for name in ("Dipper", "Siskin", "Twite"):
        make.MembershipFactory(team=cast.team_a, member__nickname=name)
    cast.team_a.memberships.update(joined_on=(NOW - 40 * DAY).date())
    _, (plain, obstacle, timed) = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=plain.tier, state="passed", passed_at=NOW - 20 * DAY)
    make.ProgressFactory(team=cast.team_a, tier=obstacle.tier, state="passed", passed_at=NOW - 7 * DAY)
    make.ProgressFactory(team=cast.team_a, tier=timed.tier, state="working")
    session = make.SessionFactory(term=make.TermFactory(club=cast.club), starts_at=NOW - 7 * DAY)
    type(session).objects.filter(pk=session.pk).update(ends_at=session.starts_at + dt.timedelta(minutes=90))
    for n, cause in enumerate(("turned_too_far", "turned_too_far", "wheel_slip")):
        make.AttemptFactory(
            team=cast.team_a, tier_version=timed, session=session, success=False, cause=cause,
            made_at=NOW - 7 * DAY + n * dt.timedelta(minutes=1), change_to_try="Turn 3 degrees less" if n == 2 else "",
        )  # fmt: skip
    table = make.TableFactory(club=cast.club)
    for slot in range(4):
        RotaTurn.objects.create(session=session, slot=slot, table=table, team=cast.team_a)
    for row in cast.team_a.memberships.all():
        Attendance.objects.create(session=session, member=row.member, present=True)
    return cast.team_a


def tell_jobs(cast) -> None:
    Club.objects.filter(pk=cast.club.pk).update(tells_jobs=True)
    cast.team_a.club.refresh_from_db()
    cast.member_a.club.refresh_from_db()


def test_each_child_of_a_team_has_another_draft_where_there_are_several_true_ones(cast, team):
    drafts = draft_team(team, now=NOW)
    assert len(drafts) == 4 == len(set(drafts.values()))
    assert len({draft.learnt for draft in drafts.values()}) == 2, "two tiers were passed"
    assert all(len(words) <= 200 for draft in drafts.values() for words in vars(draft).values())
    assert draft_words(cast.member_a, now=NOW) == drafts[cast.member_a.pk]


def test_a_team_that_has_done_one_thing_gives_its_children_the_same_true_words(cast):
    make.MembershipFactory(team=cast.team_b)
    learnt = {draft.learnt for draft in draft_team(cast.team_b, now=NOW).values()}
    assert learnt == {"Measuring a table with a tape, from its edges, and writing it down."}


def test_two_teams_with_the_same_records_do_not_begin_with_the_same_words(cast, team):
    first = next(iter(draft_team(team, now=NOW).values()))
    team.order += 1
    assert next(iter(draft_team(team, now=NOW).values())) != first


def test_nobody_is_said_to_have_learnt_what_the_team_did_without_it(cast, team):
    late, away = team.memberships.order_by("pk")[:2]
    type(late).objects.filter(pk=late.pk).update(joined_on=(NOW - 10 * DAY).date())
    Attendance.objects.filter(member=away.member).update(present=False)
    drafts = draft_team(team, now=NOW)
    assert "find a way round" in drafts[late.member_id].learnt, "the plain route was passed before it came"
    assert "come home" in drafts[away.member_id].learnt, "it was away when the way round was passed"


def test_with_the_switch_off_nothing_is_told_of_a_childs_own_jobs(cast, team):
    assert summary_for(cast.member_a, now=NOW).jobs == ()
    assert not any("this job came" in draft.learnt for draft in draft_team(team, now=NOW).values())
    assert "did in the team" not in page_of(cast.as_guardian_a.get("/family/"))


def test_with_the_switch_on_each_child_of_a_team_has_a_job_of_its_own_told(cast, team):
    tell_jobs(cast)
    drafts = draft_team(team, now=NOW)
    assert len({draft.learnt.partition(":")[0] for draft in drafts.values()}) == 4
    assert all("this job came once." in draft.learnt for draft in drafts.values()), (
        "four turns, four children, four jobs"
    )
    page = page_of(cast.as_guardian_a.get("/family/"))
    assert "What Robin did in the team" in page and "setting the robot down and starting it: once" in page
    assert not any(name in page for name in ("Dipper", "Siskin", "Twite", "Linnet"))


def test_only_turns_at_which_a_child_was_marked_as_here_count(cast, team):
    tell_jobs(cast)
    Attendance.objects.filter(member=cast.member_a).delete()
    assert jobs_of(cast.member_a, team, NOW) == ()
    assert "this job came" not in draft_words(cast.member_a, now=NOW).learnt


def test_a_tap_that_gave_a_job_to_another_counts_for_that_child(cast, team):
    tell_jobs(cast)
    other = Member.objects.get(nickname="Twite")
    turns = RotaTurn.objects.filter(team=team)
    for turn in turns:
        TeamJob.objects.create(session=turn.session, team=team, slot=turn.slot, job="drive", member=other)
    assert {own.job: own.turns for own in jobs_of(other, team, NOW)}["drive"] == 4
    assert "drive" not in {own.job for own in jobs_of(cast.member_a, team, NOW)}


def test_jobs_told_are_distinct_as_far_as_they_go_and_the_one_with_one_job_keeps_it():
    from missions.day.pages.team_jobs import DoneTurn

    turns = [DoneTurn(1, 0, {"drive": 7, "type": 7}), DoneTurn(1, 1, {"drive": 8, "measure": 7, "log": 9})]
    assert one_job_each(turns, [7, 8, 9, 10]) == {8: ("drive", 1), 9: ("log", 1), 7: ("type", 1)}


def test_what_was_written_when_it_was_a_childs_turn_to_write_is_asked_about(cast, team):
    tell_jobs(cast)
    RotaTurn.objects.filter(slot__gt=0).delete()
    writer = [draft for draft in draft_team(team, now=NOW).values() if "wrote" in draft.ask_at_home]
    assert [draft.ask_at_home for draft in writer] == [
        "When it was your turn to write, your team wrote “Turn 3 degrees less”. What came of it?"
    ]


@pytest.mark.parametrize("text", ["Linnet turns it less", "ask TWITE", "x" * 190])
def test_a_line_that_names_a_child_or_is_too_long_goes_to_no_family(cast, team, text):
    tell_jobs(cast)
    RotaTurn.objects.filter(slot__gt=0).delete()
    team.attempts.exclude(change_to_try="").update(change_to_try=text)
    assert not any("wrote" in draft.ask_at_home for draft in draft_team(team, now=NOW).values())


def test_a_childs_jobs_are_erased_with_it(cast, team):
    tell_jobs(cast)
    TeamJob.objects.create(session=RotaTurn.objects.first().session, team=team, slot=0, job="log", member=cast.member_a)
    erase_child(cast.member_a, cast.coach, now=NOW)
    assert not TeamJob.objects.exists() and len(draft_team(team, now=NOW)) == 3


def test_a_lead_coach_switches_it_and_the_log_says_so(cast):
    values = {"name": "Saltmarsh Makers Club", "unit": "cm", "time_zone": "Europe/London", "retention_days": 400}
    for switch in ({"tells_jobs": "on"}, {}):
        shown = cast.as_coach.get("/settings/")
        assert "Families may read which jobs" in page_of(shown)
        cast.as_coach.post("/settings/", values | switch | {"seen": shown.context["seen"]})
        assert Club.objects.get(pk=cast.club.pk).tells_jobs is bool(switch)
    assert AuditEntry.objects.filter(actor=f"coach:{cast.coach.pk}", verb="changed settings").count() == 2


# For a whole club at once


def test_all_that_are_due_get_a_draft_that_nobody_has_approved(cast, team):
    old = {"approve": True, "now": NOW - 15 * DAY}
    write_words(cast.member_a, cast.coach, **WORDS, **old)
    assert draft_due(cast.club, NOW, now=NOW, goes_on=lambda _: True) == 5 == len(due(cast.club, NOW))
    assert approved_words(cast.member_a).learnt == "Tape", "the family goes on reading what was approved"
    newest = SummaryWords.objects.filter(member=cast.member_a).order_by("-pk").first()
    assert newest.approved_at is None and newest.learnt != "Tape"


def test_done_again_it_makes_no_second_draft_and_a_coachs_own_stays(cast, team):
    write_words(cast.member_b, cast.coach, approve=False, now=NOW - DAY, **WORDS)
    assert draft_due(cast.club, NOW, now=NOW, goes_on=lambda _: True) == 4
    assert draft_due(cast.club, NOW, now=NOW, goes_on=lambda _: True) == 0
    assert SummaryWords.objects.filter(member=cast.member_b).count() == 1


def test_asked_to_stop_it_stops_before_the_next_team(cast, team):
    told = []
    draft_due(cast.club, NOW, now=NOW, goes_on=lambda fraction: not told.append(fraction) and fraction < 0.5)
    assert told == [0.0, 0.5] and SummaryWords.objects.count() == 4


def test_a_team_costs_the_same_queries_whatever_its_children(cast, team, django_assert_max_num_queries):
    tell_jobs(cast)
    for _ in range(20):
        make.MembershipFactory(team=team)
    with django_assert_max_num_queries(20):
        assert len(draft_team(team, now=NOW)) == 24
