"""What each line of a roster is read as, in whole sentences, and what its application writes."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from classroom.models import Member, Membership, Team
from classroom.teams.services.import_roster import RosterFix, apply_roster, plan_roster
from tests import factories as make

NOW = make.NOW


def lines_of(plan):
    return [(line.number, line.nickname, line.team, line.does, line.words) for line in plan.lines]


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("Merle,Curlew", (1, "Merle", "Curlew", "add", "Adds Merle to Curlew.")),
        ("Merle,curlew", (1, "Merle", "Curlew", "add", "Adds Merle to Curlew.")),
        ("Merle,Avocet", (1, "Merle", "Avocet", "add", "Adds Merle to Avocet, a new team.")),
        ("robin,CURLEW", (1, "robin", "Curlew", "same", "robin is in Curlew already.")),
        ("Merle,", (1, "Merle", "", "skip", "No team is named; write one beside the name.")),
        ("Merle", (1, "Merle", "", "skip", "No team is named; write one beside the name.")),
        ("Merle,=1", (1, "Merle", "=1", "skip", "The team's name cannot be used; write it out.")),
        ("Merle,+1", (1, "Merle", "+1", "skip", "The team's name cannot be used; write it out.")),
        ("Merle,-1", (1, "Merle", "-1", "skip", "The team's name cannot be used; write it out.")),
        ("Merle," + "y" * 40, (1, "Merle", "y" * 40, "add", f"Adds Merle to {'y' * 40}, a new team.")),
        ("Merle," + "y" * 41, (1, "Merle", "y" * 40, "skip", "The team's name cannot be used; write it out.")),
    ],
)
def test_a_line_is_read_as_one_of_five_things(cast, text, line):
    assert lines_of(plan_roster(cast.club, text)) == [line]


def test_a_line_that_is_no_name_is_shown_cut_short(cast):
    (line,) = plan_roster(cast.club, f"{'x' * 41},{'y' * 41}").lines
    assert (line.nickname, line.team, line.does) == ("x" * 40, "y" * 40, "skip")


@pytest.mark.parametrize(
    ("text", "look"),
    [
        ("Merle,Curlew", ""),
        ("Merle,12-Mar", "The team's name looks like a date, perhaps changed by the spreadsheet."),
        ("Robin,Plover", "A Robin is in Curlew; this adds another child of that name."),
        ("Robin,12-Mar", "The team's name looks like a date, perhaps changed by the spreadsheet."),
    ],
)
def test_a_line_asks_for_a_look_in_one_sentence(cast, text, look):
    assert [line.look for line in plan_roster(cast.club, text).lines] == [look]


def test_a_team_that_is_there_may_be_named_like_a_date(cast):
    make.TeamFactory(club=cast.club, name="12-Mar")
    assert plan_roster(cast.club, "Merle,12-Mar").lines[0].look == ""


def test_a_full_name_is_the_first_thing_to_look_at(cast):
    (line,) = plan_roster(cast.club, "Merle Saltmarsh,12-Mar").lines
    assert "full name" in line.look and "date" not in line.look


def test_who_has_left_or_is_in_another_club_or_an_ended_team_is_not_there(cast):
    ended = make.TeamFactory(club=cast.club, name="Knot", archived_at=NOW)
    make.MembershipFactory(team=ended, member__nickname="Merle")
    make.MembershipFactory(team=make.TeamFactory(club=cast.other_coach.club, name="Curlew"), member__nickname="Merle")
    make.MembershipFactory(team=cast.team_a, member__nickname="Merle", left_on=dt.date(2026, 10, 1))
    assert lines_of(plan_roster(cast.club, "Merle,Curlew\nMerle,Knot")) == [
        (1, "Merle", "Curlew", "add", "Adds Merle to Curlew."),
        (2, "Merle", "Knot", "add", "Adds Merle to Knot, a new team."),
    ]


def test_the_same_line_again_names_the_first(cast):
    plan = plan_roster(cast.club, "Pip,Curlew\nMerle,Avocet\nmerle,AVOCET")
    assert lines_of(plan)[2] == (
        3,
        "merle",
        "AVOCET",
        "ask",
        "Line 2 has a merle in AVOCET too. The same child, or another?",
    )
    assert (plan.counts, plan.new_teams) == ({"add": 2, "ask": 1}, ["Avocet"])


def test_another_child_of_the_same_name_goes_into_the_team_that_is_there(cast):
    plan = plan_roster(
        cast.club,
        "Wren,Curlew\nWren,Curlew\nTeal,Dunes\nTeal,Dunes",
        chosen=(0, 1, False),
        fixes={2: RosterFix(other_child=True), 4: RosterFix(other_child=True)},
    )
    assert [(line.does, line.new_team) for line in plan.lines] == [
        ("add", False),
        ("add", False),
        ("add", True),
        ("add", True),
    ]
    assert plan.new_teams == ["Dunes"]


def test_only_lines_that_add_count_as_new_teams_and_looks(cast):
    plan = plan_roster(cast.club, "Pip,Avocet\nWren,Avocet\nRobin,Plover\nMerle,Knot\n@x,Dunlin")
    assert plan.new_teams == ["Avocet", "Knot"] and plan.looks == 1


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("Name,Team\nMerle,Curlew", [(2, "Merle", "Curlew")]),
        ("Child,Group\nMerle,Curlew", [(2, "Merle", "Curlew")]),
        ("team,x\nCurlew,Merle", [(2, "Merle", "Curlew")]),
        ("x,team\nMerle,Curlew", [(2, "Merle", "Curlew")]),
        ("x,Nickname\nCurlew,Merle", [(2, "Merle", "")]),
        ("Team,Name\nCurlew", [(2, "", "Curlew")]),
        ("Name,Team\nMerle", [(2, "Merle", "")]),
        ("Merle,Curlew,late", [(1, "Merle", "Curlew")]),
        ("\n\nMerle;Cur,lew", [(3, "Merle", "Cur,lew")]),
        ("Merle\tCur,lew", [(1, "Merle", "Cur,lew")]),
        ("Mer\x00le,Curlew", [(1, "Merle", "Curlew")]),
    ],
)
def test_columns_are_found_by_their_heads_or_taken_in_order(cast, text, read):
    assert [(line.number, line.nickname, line.team) for line in plan_roster(cast.club, text).lines] == read


def test_a_given_team_takes_the_lines_that_name_none(cast):
    plan = plan_roster(cast.club, "Merle\nPip,Plover", cast.team_a)
    assert [(line.nickname, line.team) for line in plan.lines] == [("Merle", "Curlew"), ("Pip", "Plover")]


EMPTY = "There is nothing in it; paste one child a line, name and team."


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("", "empty", EMPTY),
        (",,\n,", "empty", EMPTY),
        ("a,b\n" * 5002, "too_many_lines", "It has 5002 lines; at most 5000 go at once. Cut it in parts."),
        (
            "\n".join(f"Pip,Team {n}" for n in range(201)),
            "too_many_teams",
            "This would make over 200 teams; is the right column called team?",
        ),
    ],
)
def test_what_is_no_roster_is_refused_in_a_sentence(cast, text, code, words):
    assert refused(InputError, lambda: plan_roster(cast.club, text)) == (code, words)


def test_the_most_that_goes_at_once_goes(cast):
    assert len(plan_roster(cast.club, "name,team\n" + "Pip,Curlew\n" * 5000).lines) == 5000
    assert len(plan_roster(cast.club, "\n".join(f"Pip,Team {n}" for n in range(200))).new_teams) == 200


def test_what_was_looked_at_has_a_digest_of_all_that_it_said(cast):
    texts = ["Merle,Curlew", "Pip,Curlew", "Merle,Plover", "Merle,Avocet", "Merle,Curlew\nPip,Curlew"]
    digests = [plan_roster(cast.club, text).digest for text in texts]
    assert len(set(digests)) == 5 and plan_roster(cast.club, "Merle,Curlew").digest == digests[0]
    assert all(len(digest) == 64 for digest in digests)


def test_new_teams_stand_behind_those_that_are_there_in_the_order_of_the_list(cast):
    make.TeamFactory(club=cast.other_coach.club, name="Avocet")
    plan = plan_roster(cast.club, "Merle,Avocet\nPip,Knot\nWren,avocet\nJay,curlew")
    assert apply_roster(cast.club, cast.coach, plan, now=NOW) == 4
    rows = Team.objects.filter(club=cast.club).order_by("order", "pk").values_list("name", "order")
    assert list(rows)[2:] == [("Avocet", 2), ("Knot", 3)]
    stays = Membership.objects.filter(joined_on=dt.date(2026, 11, 18)).order_by("pk")
    assert [(row.member.nickname, row.team.name, row.left_on) for row in stays] == [
        ("Merle", "Avocet", None),
        ("Pip", "Knot", None),
        ("Wren", "Avocet", None),
        ("Jay", "Curlew", None),
    ]
    assert {row.member.club for row in stays} == {row.team.club for row in stays} == {cast.club}


def test_a_team_that_was_made_since_the_look_is_joined_not_made_twice(cast):
    plan = plan_roster(cast.club, "Merle,Avocet")
    avocet = make.TeamFactory(club=cast.club, name="avocet")
    apply_roster(cast.club, cast.coach, plan, now=NOW)
    assert Membership.objects.get(member__nickname="Merle").team == avocet


def test_a_roster_that_adds_nobody_says_so(cast):
    members = Member.objects.count()
    assert refused(
        ConflictError, lambda: apply_roster(cast.club, cast.coach, plan_roster(cast.club, "Robin,Curlew"), now=NOW)
    ) == ("nothing_to_add", "No line adds anybody; nothing was changed.")
    assert Member.objects.count() == members
