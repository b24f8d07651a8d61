"""Who stands in the club's log for what is done to teams, members, codes and tablets."""

from __future__ import annotations

import pytest

from classroom.teams.services.import_roster import apply_roster, plan_roster
from classroom.teams.services.join_codes import end_tablet_sessions, issue_join_code, issue_pin
from classroom.teams.services.keep_team import (
    add_member,
    add_team,
    archive_team,
    change_member,
    move_member,
    rename_member,
    rename_team,
    reopen_team,
)
from classroom.teams.services.tablet_sign_in import open_tablet_for
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW

ACTS = {
    "a new team": (
        lambda c: add_team(c.club, c.assistant, "Avocet", now=NOW),
        ["assistant added team (team Avocet)"],
        True,
    ),
    "a new name": (
        lambda c: rename_team(c.team_a, c.assistant, "Sandpiper", now=NOW),
        ["assistant renamed team (team Sandpiper)"],
        True,
    ),
    "the end of a team": (
        lambda c: archive_team(c.team_a, c.coach, now=NOW),
        ["lead archived team (team Curlew)"],
        True,
    ),
    "a team again": (
        lambda c: reopen_team(make.TeamFactory(club=c.club, name="Knot", archived_at=NOW), c.coach, now=NOW),
        ["lead reopened team (team Knot)"],
        True,
    ),
    "a new child": (
        lambda c: add_member(c.team_a, "Wigeon", c.coach, now=NOW),
        ["lead added member (member Wigeon)"],
        True,
    ),
    "a child's other name": (
        lambda c: rename_member(c.member_a, "Robbie", c.coach, now=NOW),
        ["lead renamed member (member Robbie)"],
        True,
    ),
    "a child to another team": (
        lambda c: move_member(c.member_a, c.team_b, c.coach, now=NOW),
        ["lead moved member (member Robin)"],
        True,
    ),
    "a child out of any team": (
        lambda c: move_member(c.member_a, None, c.coach, now=NOW),
        ["lead member left (member Robin)"],
        True,
    ),
    "a child to the team that it is in": (
        lambda c: move_member(c.member_a, c.team_a, c.coach, now=NOW),
        [],
        False,
    ),
    "another name and another team": (
        lambda c: change_member(c.member_a, "Robbie", c.team_b, c.coach, now=NOW),
        ["lead renamed member (member Robbie)", "lead moved member (member Robbie)"],
        True,
    ),
    "another team alone": (
        lambda c: change_member(c.member_a, "Robin", c.team_b, c.coach, now=NOW),
        ["lead moved member (member Robin)"],
        True,
    ),
    "a roster": (
        lambda c: apply_roster(c.club, c.coach, plan_roster(c.club, "name,team\nWigeon,Curlew\nTeal,Dunlin"), now=NOW),
        ["lead imported roster (2 members)"],
        True,
    ),
    "a code": (
        lambda c: issue_join_code(c.team_a, c.coach, now=NOW),
        ["lead issued code (team Curlew)"],
        False,
    ),
    "a PIN": (
        lambda c: issue_pin(c.team_a, c.coach, now=NOW),
        ["lead issued PIN (team Curlew)"],
        False,
    ),
    "the end of a team's tablets": (
        lambda c: end_tablet_sessions(c.coach, team=c.team_a, now=NOW),
        ["lead ended tablets (team Curlew)"],
        True,
    ),
    "the end of all tablets": (
        lambda c: end_tablet_sessions(c.coach, now=NOW),
        ["lead ended tablets (all teams)"],
        True,
    ),
    "a tablet opened for a team": (
        lambda c: open_tablet_for(c.coach, c.team_a, now=NOW),
        ["lead opened tablet (team Curlew)"],
        False,
    ),
}


@pytest.mark.parametrize("what", ACTS)
def test_the_log_says_who_did_what_to_whom(cast, what):
    act, entries, _ = ACTS[what]
    assert noted_by(lambda: act(cast), cast.club, NOW) == entries


@pytest.mark.parametrize("what", ACTS)
def test_a_live_page_is_told_of_what_it_shows(cast, what):
    act, _, told = ACTS[what]
    assert tells_live_pages(lambda: act(cast), cast.club) is told
