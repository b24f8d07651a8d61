"""A roster from a spreadsheet says per line what it will do, and does all of it or nothing."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from classroom.errors import ConflictError, InputError
from classroom.models import Member, Membership, Team
from classroom.teams.services import import_roster
from classroom.teams.services.import_roster import apply_roster, plan_roster
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
URL = "/teams/roster/"
SAMPLES = settings.BASE_DIR / "fixtures" / "rosters"


def does(plan):
    return [line.does for line in plan.lines]


def test_each_line_says_what_it_will_do(cast):
    plan = plan_roster(cast.club, "Merle, Curlew\nRobin, Curlew\nmerle, curlew\nJay, Avocet\nPip,\n")
    assert does(plan) == ["add", "same", "ask", "add", "skip"]
    assert plan.lines[0].words == "Adds Merle to Curlew."
    assert plan.lines[1].words == "Robin is in Curlew already."
    assert plan.lines[2].words == "Line 1 has a merle in Curlew too. The same child, or another?"
    assert plan.lines[3].words == "Adds Jay to Avocet, a new team." and plan.new_teams == ["Avocet"]
    assert "No team is named" in plan.lines[4].words
    assert not Member.objects.filter(nickname="Merle").exists()


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("bom", ["", "\ufeff"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_spreadsheets_way_of_saving_is_read(cast, mark, bom, end):
    rows = [["Team", "School", "First name"], ["Curlew", "North", "Merle"], ["Plover", "South", '"Jay"'], []]
    plan = plan_roster(cast.club, bom + end.join(mark.join(row) for row in rows))
    assert [(line.number, line.nickname, line.team) for line in plan.lines] == [
        (2, "Merle", "Curlew"),
        (3, "Jay", "Plover"),
    ]


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ('=HYPERLINK("http://x")', "formula"),
        ("@SUM(A1)", "formula"),
        ("+44 7700 900123", "formula"),
        ("-2+3", "formula"),
        ("2014-03-12", "date"),
        ("12/03/2014", "date"),
        ("12-Mar", "date"),
        ("45123", "date"),
        ("robin@example.org", "e-mail"),
        ("x" * 60, "24 letters"),
        ("", "first name or a nickname"),
    ],
)
def test_what_is_no_name_is_left_out_and_said(cast, cell, said):
    quoted = cell.replace('"', '""')
    plan = plan_roster(cast.club, f'"{quoted}",Curlew\nMerle,Curlew\n')
    assert does(plan) == ["skip", "add"] and said in plan.lines[0].words


@pytest.mark.parametrize("team", ["=1+1", "@x", "y" * 60])
def test_a_teams_name_that_cannot_be_used_is_left_out_and_said(cast, team):
    assert does(plan_roster(cast.club, f"Merle,{team}\n")) == ["skip"]


def test_a_full_name_and_a_second_child_of_a_name_ask_for_a_look(cast):
    plan = plan_roster(cast.club, "Robin Saltmarsh,Curlew\nRobin,Plover\nMerle,Plover\n")
    assert [bool(line.look) for line in plan.lines] == [True, True, False] and plan.looks == 2


def test_what_is_planned_is_what_is_done(cast):
    plan = plan_roster(cast.club, "Merle,Curlew\nJay,Avocet\nTern,Avocet\n")
    assert apply_roster(cast.club, cast.coach, plan, now=NOW) == 3
    avocet = Team.objects.get(name="Avocet")
    assert avocet.club == cast.club and len(avocet.join_code) == 8 and avocet.pin_hash
    assert {m.member.nickname for m in Membership.objects.filter(team=avocet)} == {"Jay", "Tern"}
    assert does(plan_roster(cast.club, "Merle,Curlew\nJay,Avocet\nTern,Avocet\n")) == ["same"] * 3


def test_a_roster_that_fails_half_way_leaves_nothing(cast, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError("power cut")

    plan = plan_roster(cast.club, "Merle,Curlew\nJay,Avocet\n")
    monkeypatch.setattr(import_roster, "note_in_audit", broken)
    with pytest.raises(RuntimeError):
        apply_roster(cast.club, cast.coach, plan, now=NOW)
    assert not Team.objects.filter(name="Avocet").exists() and not Member.objects.filter(nickname="Merle").exists()


def test_five_thousand_lines_go_in_with_a_handful_of_queries(cast, django_assert_max_num_queries):
    text = "\n".join(f"Bird {i},Curlew" for i in range(5000))
    # SQLite takes 999 values a statement: a child's third column, the family's language, made 5 of 40 more.
    with django_assert_max_num_queries(45):
        plan = plan_roster(cast.club, text)
        assert apply_roster(cast.club, cast.coach, plan, now=NOW) == 5000


@pytest.mark.parametrize("text", ["", " \n\n", '"', ",,\n,", "\ufeff"])
def test_a_table_of_nothing_is_refused_in_words(cast, text):
    with pytest.raises(InputError) as refused:
        plan_roster(cast.club, text)
    assert refused.value.code == "empty"


def test_more_than_that_is_refused_before_anything(cast):
    with pytest.raises(InputError) as refused:
        plan_roster(cast.club, "a,b\n" * 5002)
    assert refused.value.code == "too_many_lines"


def test_a_column_of_ids_taken_for_teams_is_stopped(cast):
    with pytest.raises(InputError) as refused:
        plan_roster(cast.club, "\n".join(f"Bird,{i} ringed" for i in range(201)))
    assert refused.value.code == "too_many_teams"


def test_nothing_to_add_changes_nothing(cast):
    with pytest.raises(ConflictError):
        apply_roster(cast.club, cast.coach, plan_roster(cast.club, "Robin,Curlew"), now=NOW)


@hypothesis_settings(max_examples=60, deadline=None)
@given(text=st.text(alphabet=st.characters(codec="utf-8"), max_size=300))
def test_any_text_is_planned_or_refused_in_words(text):
    """No database row is needed for a club that has none."""

    class Nothing:
        pk = None

    from unittest.mock import patch

    with patch.object(import_roster, "Membership") as memberships, patch.object(import_roster, "Team") as teams:
        memberships.objects.filter.return_value.select_related.return_value = []
        teams.objects.filter.return_value.active.return_value = []
        try:
            plan = plan_roster(Nothing(), text)
        except InputError as error:
            assert error.message.endswith(".")
        else:
            assert all(line.words.endswith(".") for line in plan.lines)


# On the page


def test_looking_changes_nothing_and_applying_does_what_was_shown(cast):
    text = "Merle,Curlew\nJay,Avocet\n"
    look = cast.as_coach.post(URL, {"text": text, "do": "look"})
    assert "2 to add" in page_of(look) and not Member.objects.filter(nickname="Merle").exists()
    digest = look.context["plan"].digest
    assert cast.as_coach.post(URL, {"text": text, "do": "apply", "digest": digest}).status_code == 302
    assert Member.objects.filter(nickname="Merle", club=cast.club).exists()


def test_a_club_that_changed_meanwhile_is_looked_at_again(cast):
    text = "Merle,Curlew\nJay,Curlew\n"
    digest = cast.as_coach.post(URL, {"text": text, "do": "look"}).context["plan"].digest
    make.MembershipFactory(team=cast.team_a, member__nickname="Merle")
    again = cast.as_coach.post(URL, {"text": text, "do": "apply", "digest": digest})
    assert "has changed since you looked" in page_of(again)
    assert not Member.objects.filter(nickname="Jay").exists()


#: (line, name, team, what it does) of the sample rosters.
ROSTERS = {
    "headings.csv": [
        (2, "Merle", "Curlew", "add"),
        (3, "Jay", "Plover", "add"),
        (5, "Tern", "Avocet", "add"),
    ],
    "numbered.csv": [
        (2, "Merle", "Curlew", "add"),
        (3, "Jay", "Curlew", "add"),
        (4, "Tern", "Plover", "add"),
        (5, "Merle", "Curlew", "ask"),
    ],
    "semicolons.csv": [(1, "Zoë", "Curlew", "add"), (2, "Merle", "Curlew", "add"), (3, "Jay", "Plover", "add")],
    "tabs.txt": [(1, "Zoë", "Curlew", "add"), (2, "Merle", "Curlew", "add")],
    "quotes.csv": [(2, "Merle", "Curlew", "add"), (4, "Jay", "Plover", "add")],
    "stray_quote.csv": [
        (1, "Merle", "Curlew", "add"),
        (2, "Jay,Curlew", "", "skip"),
        (3, "Dove", "Plover", "add"),
        (4, "Rook", "Plover", "add"),
    ],
    "spoilt_by_the_spreadsheet.csv": [
        (2, "=1+1", "Curlew", "skip"),
        (3, "12-Mar", "Curlew", "skip"),
        (4, "robin@saltmarsh.example", "Curlew", "skip"),
        (5, "Merle Saltmarsh", "Curlew", "add"),
        (6, "Jay", "45123", "add"),
        (7, "Tern", "", "skip"),
    ],
}


def test_every_sample_roster_is_tried():
    assert {path.name for path in SAMPLES.iterdir()} == set(ROSTERS)


@pytest.mark.parametrize("name", ROSTERS)
def test_a_roster_as_people_have_it_is_read(cast, name):
    file = SimpleUploadedFile(name, (SAMPLES / name).read_bytes())
    plan = cast.as_coach.post(URL, {"file": file, "do": "look"}).context["plan"]
    assert [(line.number, line.nickname, line.team, line.does) for line in plan.lines] == ROSTERS[name]


@pytest.mark.parametrize("raw", [b"PK\x03\x04\x00\x00spreadsheet", b"a,b\n" * 60_000])
def test_a_file_that_is_no_table_is_refused_and_what_was_typed_stays(cast, raw):
    file = SimpleUploadedFile("roster.xlsx", raw)
    answer = cast.as_coach.post(URL, {"file": file, "text": "Merle,Curlew", "do": "look"})
    assert answer.status_code == 422 and "Merle,Curlew" in page_of(answer)


def test_a_file_of_five_thousand_lines_with_more_columns_than_are_asked_for_is_read(cast):
    """Found by audit: files over 200 kB were refused, with words about a robot's runs."""
    head = "Team,School,Year group and form,First name"
    lines = [f"Curlew,Estuary Primary School of the North,Year 5 Form Kingfisher,B{i}" for i in range(5000)]
    file = SimpleUploadedFile("roster.csv", "\n".join([head, *lines]).encode())
    answer = cast.as_coach.post(URL, {"file": file, "do": "look"})
    assert answer.status_code == 200 and answer.context["counts"] == {"add": 5000}


def test_a_file_that_is_too_big_is_refused_in_words_of_its_own(cast):
    answer = cast.as_coach.post(URL, {"file": SimpleUploadedFile("roster.csv", b"a,b\n" * 400_000), "do": "look"})
    assert answer.status_code == 422
    assert "over 1,000 kB" in page_of(answer) and "robot" not in answer.context["form"].errors["file"][0]


def test_a_stray_quotation_mark_swallows_no_other_line(cast):
    """Found by audit: all lines after it became one name, and their children were not in the preview."""
    plan = plan_roster(cast.club, (SAMPLES / "stray_quote.csv").read_text())
    assert [(line.number, line.does) for line in plan.lines if line.number != 2] == [(1, "add"), (3, "add"), (4, "add")]


def test_nor_does_one_at_the_top_of_a_long_file(cast):
    """Found in review: what it swallowed was longer than a cell may be, and the whole file was called no table."""
    rest = "".join(f"Child{n},Curlew,{'x' * 30}\n" for n in range(4000))
    plan = plan_roster(cast.club, '"Jay,Curlew,\n' + rest)
    assert plan.counts["add"] >= 4000 and plan.lines[-1].number == 4001


def test_a_cell_of_two_lines_in_another_column_keeps_the_numbers_of_the_lines(cast):
    plan = plan_roster(cast.club, (SAMPLES / "quotes.csv").read_text(encoding="utf-8-sig"))
    assert [(line.number, line.nickname, line.does) for line in plan.lines] == [(2, "Merle", "add"), (4, "Jay", "add")]


@pytest.mark.parametrize("team", ["12-Mar", "45123", "03/12/2014"])
def test_a_teams_name_that_a_spreadsheet_made_a_date_of_asks_for_a_look(cast, team):
    (line,) = plan_roster(cast.club, f"Merle,{team}\n").lines
    assert line.does == "add" and "looks like a date" in line.look


def test_markup_in_a_name_is_shown_as_text(cast):
    page = page_of(cast.as_coach.post(URL, {"text": "<b>x</b>,Curlew", "do": "look"}))
    assert "<b>x</b>" not in page and "&lt;b&gt;x" in page


def test_a_long_preview_shows_first_what_needs_a_look(cast):
    text = "\n".join(f"Bird {i % 3},Curlew" if i < 400 else "=bad,Curlew" for i in range(450))
    page = page_of(cast.as_coach.post(URL, {"text": text, "do": "look"}))
    assert page.count("Left out") == 50


def test_the_address_is_the_rosters():
    assert reverse("roster") == URL
