"""Tables of teams, runs and attendance: whole, for lead coaches alone, and no cell of them is a formula."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from xml.etree import ElementTree

import pytest
from django.urls import reverse

from classroom.models import Attendance, AuditEntry
from classroom.records import club_tables as tables
from missions.models import Attempt
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def club(cast):
    cast.team_a.name, cast.team_a.club.time_zone = "=Curlew", "Europe/London"
    cast.team_a.save()
    session = make.SessionFactory(
        term=make.TermFactory(club=cast.club, name="Autumn"), starts_at=dt.datetime(2026, 7, 1, 15, tzinfo=dt.UTC)
    )
    cast.member_a.memberships.update(joined_on=dt.date(2026, 6, 1))
    for member, here in ((cast.member_a, True), (cast.member_b, False)):
        Attendance.objects.create(session=session, member=member, present=here)
    _mission, (plain, *_) = make.mission_with_tiers(cast.club)
    kept = make.AttemptFactory(
        team=cast.team_a, tier_version=plain, robot=cast.robot_a, success=False, lateral_mm=-12.5, cause="too_short",
        note='Said "why",\nthen @home', made_at=NOW, plan_number=3,
    )  # fmt: skip
    make.AttemptFactory(
        team=cast.team_b, tier_version=plain, withdrawn_at=NOW, made_at=NOW + dt.timedelta(minutes=1), note="+1"
    )
    Attempt.objects.filter(pk=kept.pk).update(outcomes={"left_base": True, "done": False, "gone": False})
    make.AttemptFactory()  # of another club
    make.MemberFactory(club=cast.club, nickname="Dunlin")
    return cast.club


def taken(client, key, way="csv"):
    answer = client.post(reverse("club_table", args=[key]), {"as": way})
    assert answer.status_code == 200 and "no-store" in answer["Cache-Control"]
    return answer.getvalue()


def read(raw):
    """RFC 4180, 2: CRLF ends each line (1, 2), as many fields in each (4), quotes around breaks and quotes (6, 7)."""
    text = raw.decode("utf-8-sig")
    assert text.endswith("\r\n") and not re.search(r"[^\r]\n", re.sub(r'"(?:[^"]|"")*"', "", text))
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert {len(row) for row in rows} == {len(rows[0])}
    return rows


def sheet_of(raw):
    """The cells of a workbook's only sheet, read without the library that wrote it (ECMA-376, part 1, 18.3)."""
    files = zipfile.ZipFile(io.BytesIO(raw))
    space = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
    tree = ElementTree.fromstring(files.read("xl/worksheets/sheet1.xml"))
    assert not list(tree.iter(f"{space}f")) and not list(tree.iter(f"{space}hyperlink"))
    return [["".join(cell.itertext()) for cell in row.iter(f"{space}c")] for row in tree.iter(f"{space}row")]


def test_teams_with_their_children_and_who_is_in_none(cast, club):
    assert read(taken(cast.as_coach, "teams"))[1:] == [
        ["'=Curlew", "", "Kit 1", "Robin", "2026-06-01", ""],
        ["Plover", "", "", "Linnet", "2026-09-14", ""],
        ["", "", "", "Dunlin", "", ""],
    ]


def test_attendance_by_the_clubs_clock_with_the_team_of_that_day(cast, club):
    """In July London is an hour ahead of UTC; Linnet joined later."""
    assert read(taken(cast.as_coach, "attendance"))[1:] == [
        ["Autumn", "2026-07-01 16:00:00", "", "", "Linnet", "no"],
        ["Autumn", "2026-07-01 16:00:00", "", "'=Curlew", "Robin", "yes"],
    ]


def test_runs_say_what_was_seen_and_whether_they_count(cast, club):
    head, first, second = read(taken(cast.as_coach, "runs"))
    run = dict(zip(head, first, strict=True))
    assert run["Team"] == "'=Curlew" and run["Run at"] == "2026-11-18 16:00:00" and run["Clean"] == "no"
    assert (run["Robot"], run["Plan"], run["To the left (mm)"]) == ("Kit 1", "3", "-12.5")
    assert (run["Seen"], run["Not seen"]) == ("Left the base by itself", "Gate is shut; gone")
    assert run["Note"] == 'Said "why",\nthen @home' and run["Cause"] == "Too short" and run["Counts"] == "yes"
    last = dict(zip(head, second, strict=True))
    assert (last["Note"], last["Counts"]) == ("'+1", "taken out")


def test_a_workbook_has_the_same_cells_and_no_formula(cast, club):
    """OWASP ASVS 5.0.0, 1.2.10 (CSV and formula injection; from memory)."""
    rows = sheet_of(taken(cast.as_coach, "runs", "xlsx"))
    assert [row[1] for row in rows] == ["Team", "=Curlew", "Plover"] and "-12.5" in rows[1]
    seconds = round(float(rows[1][0]) * 86_400)  # days since 30 December 1899
    assert dt.datetime(1899, 12, 30) + dt.timedelta(seconds=seconds) == dt.datetime(2026, 11, 18, 16)


def test_a_sheet_that_is_too_short_for_all_rows_is_refused_in_words(cast, club, monkeypatch):
    monkeypatch.setattr(tables, "MOST_ROWS", 2)
    answer = cast.as_coach.post(reverse("club_table", args=["runs"]), {"as": "xlsx"}, follow=True)
    assert "Take it as CSV" in answer.content.decode() and answer.redirect_chain
    assert not AuditEntry.objects.filter(club=club).exists()


def test_the_log_says_who_took_what_and_the_page_offers_all(cast, club):
    page = cast.as_coach.get(reverse("club_data")).content.decode()
    assert all(f"{title} as {way}" in page for title in ("Teams", "Runs", "Attendance") for way in ("CSV", "XLSX"))
    taken(cast.as_coach, "attendance")
    (told,) = AuditEntry.objects.filter(club=club)
    assert (told.actor, told.verb, told.subject) == (f"coach:{cast.coach.pk}", "took the table of attendance", "")
    assert cast.as_coach.post(reverse("club_table", args=["secrets"])).status_code == 404
    assert cast.as_coach.post(reverse("club_table", args=["runs"]), {"as": "exe"}).status_code == 404


@pytest.mark.parametrize(("key", "most"), [("teams", 7), ("attendance", 6), ("runs", 7)])
def test_a_table_costs_the_same_queries_whatever_its_length(cast, club, key, most, django_assert_max_num_queries):
    table = tables.table_named(key)
    with django_assert_max_num_queries(most):
        list(table.rows(club))
