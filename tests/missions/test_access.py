"""Which missions, tiers, runs and places there are for a coach or a team."""

from __future__ import annotations

import uuid
from types import SimpleNamespace

import pytest
from django.http import Http404

from classroom.access import TeamSeat
from classroom.errors import ConflictError
from classroom.models import SafetyCard
from missions import access
from missions.models import ChangeMark, RotaTurn
from tests import factories as make

NOW = make.NOW


def rows_of(club):
    """One row of each kind, in a club."""
    _, editions = make.mission_with_tiers(club)
    team = make.TeamFactory(club=club)
    return SimpleNamespace(
        mission=editions[0].version.mission,
        tier=editions[0].tier,
        attempt=make.AttemptFactory(team=team, tier_version=editions[0]),
        table=make.TableFactory(club=club),
        card=SafetyCard.objects.create(club=club, subject="Stop", text="Stop.", order=1),
        team=team,
        robot=make.RobotFactory(club=club),
        member=make.MemberFactory(club=club),
    )


@pytest.mark.parametrize("kind", ["mission", "tier", "attempt", "table", "card"])
def test_a_row_is_there_for_its_own_club_and_for_no_other(cast, kind):
    door = getattr(access, f"get_{kind}")
    ours, theirs = (getattr(rows_of(club), kind) for club in (cast.club, cast.other_coach.club))
    assert door(cast.coach, ours.pk) == ours and door(cast.other_coach, theirs.pk) == theirs
    for asker, row in [(cast.coach, theirs.pk), (cast.other_coach, ours.pk), (cast.coach, 0)]:
        with pytest.raises(Http404):
            door(asker, row)


@pytest.mark.parametrize("kind", ["team", "robot", "member"])
def test_what_a_form_names_is_of_the_coachs_club_or_not_there(cast, kind):
    door = getattr(access, f"chosen_{kind}")
    ours, theirs = (getattr(rows_of(club), kind) for club in (cast.club, cast.other_coach.club))
    assert door(cast.coach, str(ours.pk)) == ours
    for text in (str(theirs.pk), "0", "seven"):
        with pytest.raises(Http404):
            door(cast.coach, text)


def test_a_form_may_name_no_team_and_no_robot_but_not_no_child(cast):
    assert access.chosen_team(cast.coach, "") is None and access.chosen_robot(cast.coach, "") is None
    with pytest.raises(Http404):
        access.chosen_member(cast.coach, "")


@pytest.fixture
def edition(cast):
    return make.mission_with_tiers(cast.club)[1][0]


def test_the_current_version_of_a_tier_is_the_newest_that_is_published(cast, edition):
    mission = edition.version.mission
    made = {
        number: make.TierVersionFactory(
            tier=edition.tier,
            version=make.MissionVersionFactory(mission=mission, number=number, published_at=published),
        )
        for number, published in [(3, NOW), (2, NOW), (4, None)]
    }
    make.mission_with_tiers(cast.club, number=9)
    assert access.current_tier_version(edition.tier) == made[3]
    draft = make.MissionVersionFactory(mission=make.MissionFactory(club=cast.club), published_at=None)
    assert access.current_tier_version(make.TierVersionFactory(version=draft).tier) is None


def seat_of(cast, team):
    return TeamSeat(team, make.TabletSessionFactory(team=team))


@pytest.mark.parametrize(
    ("state", "is_open"), [("working", True), ("passed", True), ("not_open", False), (None, False)]
)
def test_a_tier_is_there_for_a_team_that_works_on_it_or_has_passed_it(cast, edition, state, is_open):
    make.ProgressFactory(team=cast.team_b, tier=edition.tier)
    if state is not None:
        make.ProgressFactory(team=cast.team_a, tier=edition.tier, state=state)
    seat = seat_of(cast, cast.team_a)
    if is_open:
        assert access.get_open_tier(seat, edition.tier_id) == edition.tier
    else:
        with pytest.raises(Http404):
            access.get_open_tier(seat, edition.tier_id)


@pytest.mark.parametrize("why", ["archived", "another club", "another tier"])
def test_a_tier_of_an_archived_mission_or_another_club_is_not_there(cast, edition, why):
    seat = seat_of(cast, cast.team_a)
    tier = make.mission_with_tiers(cast.other_coach.club)[1][0].tier if why == "another club" else edition.tier
    make.ProgressFactory(team=cast.team_a, tier=tier)
    if why == "archived":
        mission = edition.version.mission
        mission.archived_at = NOW
        mission.save()
    if why == "another tier":
        make.ProgressFactory(team=cast.team_b, tier=edition.version.tier_versions.get(order=2).tier)
        tier = edition.version.tier_versions.get(order=2).tier
    with pytest.raises(Http404):
        access.get_open_tier(seat, tier.pk)


def test_a_team_finds_its_own_runs_by_their_key(cast, edition):
    mine = make.AttemptFactory(team=cast.team_a, tier_version=edition)
    make.AttemptFactory(team=cast.team_a, tier_version=edition)
    theirs = make.AttemptFactory(team=cast.team_b, tier_version=edition)
    seat = seat_of(cast, cast.team_a)
    assert access.get_own_attempt(seat, mine.uuid) == mine
    for key in (theirs.uuid, uuid.uuid4()):
        with pytest.raises(Http404):
            access.get_own_attempt(seat, key)


def test_a_mark_of_a_change_is_found_for_its_own_team(cast):
    ours, theirs = (ChangeMark.objects.create(team=team, part="build", at=NOW) for team in (cast.team_a, cast.team_b))
    assert access.get_change_mark(cast.team_a, ours.pk) == ours
    for key in (theirs.pk, 0):
        with pytest.raises(Http404):
            access.get_change_mark(cast.team_a, key)


def test_a_turn_is_found_in_its_own_session_or_said_to_be_gone(cast):
    term, table = make.TermFactory(club=cast.club), make.TableFactory(club=cast.club)
    first, second = (make.SessionFactory(term=term) for _ in range(2))
    turns = [RotaTurn.objects.create(session=first, slot=n, table=table, team=cast.team_a) for n in (0, 1)]
    theirs = RotaTurn.objects.create(session=second, slot=0, table=table, team=cast.team_a)
    assert access.get_turn(first, turns[1].pk) == turns[1]
    for key in (theirs.pk, 0):
        with pytest.raises(ConflictError) as gone:
            access.get_turn(first, key)
        assert (gone.value.code, gone.value.message) == (
            "turn_gone",
            "That turn is no longer there: the rota was planned anew. Choose again.",
        )
