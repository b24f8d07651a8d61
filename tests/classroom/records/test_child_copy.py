"""A guardian's copy: all that is kept of that child, nothing of another, in files that programs and people can read."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from html import unescape

import pytest
from django.urls import reverse

from classroom.families.letters import write_letter
from classroom.families.share_summary import keep_contact, make_link, write_words
from classroom.models import Attendance, AuditEntry, Member
from classroom.records.child_copy import child_records, copy_of_child, csv_text, safe_cell
from classroom.records.walk import naming_models
from missions.models import TeamJob
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def copy(cast):
    child = cast.member_a
    session = make.SessionFactory(term=make.TermFactory(club=cast.club))
    other = make.MembershipFactory(team=cast.team_a, member__nickname="Linnet-two").member
    for each in (child, other):
        Attendance.objects.create(session=session, member=each, present=True)
    TeamJob.objects.create(session=session, team=cast.team_a, slot=0, job="drive", member=child)
    contact = keep_contact(child, cast.coach, email="wader@example.org", language="en", consented=True, now=NOW)
    keep_contact(other, cast.coach, email="other@example.org", language="en", consented=True, now=NOW)
    make_link(child, cast.coach, contact=contact, now=NOW)
    write_letter(contact, cast.coach, now=NOW)
    write_words(child, cast.coach, learnt="=Tape", working_on="a\nb", ask_at_home='Say "why"?', approve=True, now=NOW)
    return zipfile.ZipFile(io.BytesIO(copy_of_child(child, NOW)))


def test_every_kind_of_record_that_names_a_child_is_in_it(cast, copy):
    """GDPR art. 15(1) and (3): all of it, not what somebody thought of."""
    kinds = {model._meta.model_name for model in (Member, *naming_models())}
    assert set(copy.namelist()) == {"read-me-first.html", "copy.json", *(f"{kind}.csv" for kind in kinds)}
    records = json.loads(copy.read("copy.json"))["records"]
    assert {kind: len(rows) for kind, rows in records.items()} == {
        "member": 1, "membership": 1, "attendance": 1, "teamjob": 1, "guardiancontact": 1, "summarylink": 2, "familyletter": 1,
        "summarywords": 1,
    }  # fmt: skip
    assert records["summarywords"][0]["learnt"] == "=Tape" and records["guardiancontact"][0]["consent_notice"]


def test_nothing_of_another_child_no_coach_and_no_key_is_in_it(cast, copy):
    """GDPR art. 15(4): not at the cost of others."""
    everything = b"".join(copy.read(name) for name in copy.namelist()).decode()
    for word in ("Linnet", "other@example.org", cast.coach.user.email, "Wren", cast.link_a.token_digest, "digest"):
        assert word not in everything
    assert not any("Robin" in name for name in copy.namelist())


def test_tables_are_as_rfc_4180_has_them(cast, copy):
    """RFC 4180, 2: CRLF ends each line (1), a heading (3), as many fields in each (4), quotes around breaks (6), doubled (7)."""
    raw = copy.read("summarywords.csv").decode("utf-8-sig")
    assert raw.endswith("\r\n") and '"Say ""why""?"' in raw
    head, row = csv.reader(io.StringIO(raw, newline=""))
    assert len(head) == len(row) and row[head.index("working_on")] == "a\nb"


def test_no_cell_is_a_formula(copy):
    """OWASP ASVS 5.0.0, 1.2.10 (CSV and formula injection; from memory): = + - @ tab and return first."""
    assert "'=Tape" in copy.read("summarywords.csv").decode()
    assert [safe_cell(x) for x in ("=a", "+a", "-a", "@a", "\ta", "\ra", "a=", -3, "")] == [
        "'=a", "'+a", "'-a", "'@a", "'\ta", "'\ra", "a=", -3, "",
    ]  # fmt: skip
    assert csv_text(("a",), ((None,), ("x,y",))) == 'a\r\n""\r\n"x,y"\r\n'


def test_a_page_says_what_each_thing_is(cast, copy):
    page = unescape(copy.read("read-me-first.html").decode())
    assert all(sheet.kept.what in page and f"{sheet.file}.csv" in page for sheet in child_records(cast.member_a))
    assert "<script" not in page and "http" not in page


def test_coach_and_guardian_get_it_and_the_log_says_who_without_what(cast):
    for client, url in (
        (cast.as_assistant, reverse("family_copy", args=[cast.member_a.pk])),
        (cast.as_guardian_a, "/family/copy/"),
    ):
        answer = client.post(url)
        assert answer["Content-Type"] == "application/zip" and "no-store" in answer["Cache-Control"]
        assert "Robin" not in answer["Content-Disposition"]
        assert json.loads(zipfile.ZipFile(io.BytesIO(answer.content)).read("copy.json"))["records"]["member"] == [
            {"nickname": "Robin", "family_language": ""}
        ]
    told = AuditEntry.objects.filter(verb="copied a child's records").order_by("pk")
    assert [entry.actor for entry in told] == [f"coach:{cast.assistant.pk}", f"summarylink:{cast.link_a.pk}"]
    assert {entry.subject for entry in told} == {f"member:{cast.member_a.pk}"}
