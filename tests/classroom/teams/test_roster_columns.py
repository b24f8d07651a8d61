"""Lists as people have them: any headings, numbered lines, twins; what was guessed is said and can be changed."""

from __future__ import annotations

import pytest

from classroom.errors import ConflictError
from classroom.models import Member
from classroom.teams.services.import_roster import RosterFix, apply_roster, plan_roster
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
URL = "/teams/roster/"


def read(plan):
    return [(line.number, line.nickname, line.team) for line in plan.lines]


@pytest.mark.parametrize(
    "text",
    [
        "Name;Gruppe\nMerle;Curlew\nJay;Plover",
        "Gruppe;Vorname\nCurlew;Merle\nPlover;Jay",
        "Child name,Group\nMerle,Curlew\nJay,Plover",
        "Name of the child\tSchool\tTeam name\nMerle\tNorth\tCurlew\nJay\tSouth\tPlover",
        "No.,Name,Team\n1,Merle,Curlew\n2,Jay,Plover",
        "#;Kind;Mannschaft\n1.;Merle;Curlew\n2.;Jay;Plover",
    ],
)
def test_any_heading_is_read(cast, text):
    assert read(plan_roster(cast.club, text)) == [(2, "Merle", "Curlew"), (3, "Jay", "Plover")]


@pytest.mark.parametrize(
    "text",
    ["1,Merle,Curlew\n2,Jay,Plover", "1. Merle,Curlew\n2. Jay,Plover", "1) Merle;Curlew\n2) Jay;Plover"],
)
def test_a_numbered_list_is_read_without_its_numbers(cast, text):
    assert read(plan_roster(cast.club, text)) == [(1, "Merle", "Curlew"), (2, "Jay", "Plover")]


def test_a_team_called_team_one_is_no_heading(cast):
    assert read(plan_roster(cast.club, "Merle,Team 1\nJay,Team 2")) == [(1, "Merle", "Team 1"), (2, "Jay", "Team 2")]


def test_the_coach_says_which_column_is_what(cast):
    text = "Wer;Wo;Wohin\nMerle;North;Curlew"
    guessed = plan_roster(cast.club, text)
    assert guessed.columns.has_head is False and guessed.columns.heads[0] == "column 1: Wer \u2026"
    chosen = plan_roster(cast.club, text, chosen=(0, 2, True))
    assert read(chosen) == [(2, "Merle", "Curlew")]
    beyond = plan_roster(cast.club, text, chosen=(9, 9, True))
    assert (beyond.columns.name_at, beyond.columns.team_at) == (2, None)


def test_a_line_is_put_right_where_it_stands(cast):
    text = "Merle,\n=1+1,Curlew"
    fixes = {1: RosterFix(team="Curlew"), 2: RosterFix(nickname="Jay")}
    plan = plan_roster(cast.club, text, fixes=fixes)
    assert [line.does for line in plan.lines] == ["add", "add"]
    assert read(plan) == [(1, "Merle", "Curlew"), (2, "Jay", "Curlew")]


def test_two_children_of_one_name_in_a_team_are_asked_about_and_not_merged(cast):
    text = "Merle,Curlew\nMerle,Curlew"
    asked = plan_roster(cast.club, text)
    with pytest.raises(ConflictError) as refused:
        apply_roster(cast.club, cast.coach, asked, now=NOW)
    assert refused.value.code == "twins_unanswered"
    same = plan_roster(cast.club, text, fixes={2: RosterFix(other_child=False)})
    assert [line.does for line in same.lines] == ["add", "twice"]
    other = plan_roster(cast.club, text, fixes={2: RosterFix(other_child=True)})
    assert apply_roster(cast.club, cast.coach, other, now=NOW) == 2
    assert Member.objects.filter(nickname="Merle").count() == 2


def test_lines_that_were_read_from_other_columns_are_not_put_right_by_what_they_held(cast):
    """Found in the browser: with other columns chosen, what the fields of the old ones held counted as typed."""
    text = "Curlew;Merle\nCurlew;Merle"
    first = cast.as_coach.post(URL, {"text": text, "do": "look"}).context["plan"]
    assert first.lines[1].does == "ask"
    typed = {"text": text, "do": "again", "were": first.columns.mark, "name-2": "Curlew", "team-2": "Merle"}
    turned = cast.as_coach.post(URL, typed | {"name_at": "2", "team_at": "1"}).context["plan"]
    assert read(turned) == [(1, "Merle", "Curlew"), (2, "Merle", "Curlew")]


def test_the_page_keeps_what_was_put_right_until_all_is_added(cast):
    text = "Wer;Wohin\nMerle;Curlew\nMerle;Curlew\n=1;Plover"
    first = cast.as_coach.post(URL, {"text": text, "do": "look"})
    assert "The first line is a heading" in page_of(first)
    typed = {"text": text, "do": "again", "name_at": "1", "team_at": "2", "head": "on"}
    second = cast.as_coach.post(URL, typed | {"twin-3": "other", "name-4": "Jay", "team-4": "Plover"})
    plan = second.context["plan"]
    assert [line.does for line in plan.lines] == ["add", "add", "add"]
    assert 'name="twin-3" value="other"' in page_of(second) and 'name="name-4" value="Jay"' in page_of(second)
    done = cast.as_coach.post(
        URL,
        typed | {"do": "apply", "digest": plan.digest, "twin-3": "other", "name-4": "Jay", "team-4": "Plover"},
    )
    assert done.status_code == 302 and Member.objects.filter(nickname__in=["Merle", "Jay"]).count() == 3
