"""After erasing, a scan of the whole database, of its file, its log and the data folder finds nothing of the child.

GDPR art. 17; 16 CFR 312.6(a)(2) and 312.10; guard P9 (from memory).
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.contenttypes.models import ContentType
from django.contrib.sessions.models import Session as BrowserSession
from django.core.management import CommandError, call_command
from django.db import connection
from django.urls import reverse

from classroom.access import FAMILY_KEY
from classroom.club.services.audit import note_in_audit
from classroom.families.share_summary import keep_contact, make_link, open_link, write_words
from classroom.models import Attendance, AuditEntry, Member, SummaryLink
from classroom.records.scrub import scrub_remains
from classroom.records.services.erase_child import Erased, erase_child, name_pattern
from classroom.teams.services.keep_team import rename_member
from missions.models import Attempt, QuickNote, TeamJob
from planning.models import Job
from tests import factories as make
from tests.conftest import signed_in_with
from tests.pages import page_of

NOW = make.NOW
NAME = "Whimbrelette"


@pytest.fixture
def child(cast):
    """A child with a row of everything, and its name in what people typed."""
    row = make.MembershipFactory(team=cast.team_a, member__nickname=NAME).member
    session = make.SessionFactory(term=make.TermFactory(club=cast.club), notes=f"{NAME} asked a good question.")
    Attendance.objects.create(session=session, member=row, present=True)
    TeamJob.objects.create(session=session, team=cast.team_a, slot=0, job="drive", member=row)
    contact = keep_contact(row, cast.coach, email="curlew.family@example.org", language="en", consented=True, now=NOW)
    open_link(make_link(row, cast.coach, now=NOW, contact=contact)[1], now=NOW)
    words = {"working_on": "Turns", "ask_at_home": "Why?", "approve": True, "now": NOW}
    write_words(row, cast.coach, learnt=f"{NAME} can measure.", **words)
    write_words(cast.member_a, cast.coach, learnt=f"Helped {NAME} and {NAME.upper()}.", **words)
    QuickNote.objects.create(session=session, team=cast.team_a, text=f"{NAME}'s turn; {NAME}s is no name", at=NOW)
    _, tiers = make.mission_with_tiers(cast.club)
    make.AttemptFactory(team=cast.team_a, tier_version=tiers[0], note=f"{NAME} drove")
    make.JobFactory(club=cast.club, input={"asked": [f"for {NAME}"], "runs": 3})
    kind = ContentType.objects.get_for_model(Member)
    LogEntry.objects.create(
        user=cast.coach.user, content_type=kind, object_id=str(row.pk), object_repr=NAME, action_flag=CHANGE
    )
    return row


def everything() -> str:
    """Every row of every table of the database, as text."""
    tables = connection.introspection.table_names()
    with connection.cursor() as cursor:
        rows = []
        for table in tables:
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            rows += [str(row) for row in cursor.fetchall()]
    return "\n".join(rows)


def test_a_scan_of_the_database_finds_neither_name_nor_address_nor_key(cast, child):
    key, links = child.pk, list(child.summary_links.values_list("pk", flat=True))
    assert NAME in everything() and "curlew.family@" in everything()
    erase_child(child, cast.coach, now=NOW)
    left = everything()
    assert "curlew.family@" not in left
    assert NAME not in left.replace(f"{NAME}s is no name", "") and NAME.upper() not in left
    codes = {f"member:{key}", *(f"link:{pk}" for pk in links), *(f"summarylink:{pk}" for pk in links)}
    for subject, actor in AuditEntry.objects.values_list("subject", "actor"):
        assert not codes & {*subject.split(), actor}


def test_the_teams_runs_and_totals_stay_and_other_children_too(cast, child):
    erase_child(child, cast.coach, now=NOW)
    (run,) = Attempt.objects.all()
    assert run.team == cast.team_a and run.success and run.note == "(erased) drove"
    assert QuickNote.objects.get().text == f"(erased)'s turn; {NAME}s is no name"
    assert Job.objects.get().input == {"asked": ["for (erased)"], "runs": 3}
    assert list(cast.team_a.memberships.values_list("member__nickname", flat=True)) == ["Robin"]
    assert cast.member_a.summary_words.get().learnt == "Helped (erased) and (erased)."
    assert SummaryLink.objects.filter(pk=cast.link_a.pk).exists()


def test_the_log_says_who_erased_without_whom(cast, child):
    before = AuditEntry.objects.count()
    erase_child(child, cast.coach, now=NOW)
    assert AuditEntry.objects.count() == before + 1
    entry = AuditEntry.objects.filter(verb="erased child").get()
    assert (entry.actor, entry.subject, entry.at) == (f"coach:{cast.coach.pk}", "", NOW)
    lines = page_of(cast.as_coach.get(reverse("audit_log")))
    assert "an erased child" in lines and NAME not in lines


def test_it_says_how_much_went(cast, child):
    links = child.summary_links.values_list("pk", flat=True)
    codes = {f"member:{child.pk}", *(f"{kind}:{pk}" for pk in links for kind in ("link", "summarylink"))}
    lines = [codes & {*entry.subject.split(), entry.actor} for entry in AuditEntry.objects.all()]
    signed_in_with(**{FAMILY_KEY: make.SummaryLinkFactory(member=child).pk})
    went = erase_child(child, cast.coach, now=NOW)
    assert went.rows == {
        "classroom.Attendance": 1,
        "classroom.GuardianContact": 1,
        "classroom.Member": 1,
        "classroom.Membership": 1,
        "classroom.SummaryLink": 2,
        "classroom.SummaryWords": 1,
        "missions.TeamJob": 1,
    }
    assert (went.sentences, went.log_lines, went.visits) == (5, sum(map(bool, lines)), 1)


@pytest.mark.parametrize(
    ("rows", "sentences", "log_lines", "visits", "words"),
    [
        (
            {"classroom.Member": 1, "classroom.Membership": 2},
            0,
            4,
            2,
            "3 rows are deleted, the name is out of 0 sentences, 4 lines of the log name nobody now, 2 visits are ended.",
        ),
        (
            {"classroom.Member": 1},
            1,
            1,
            1,
            "1 row is deleted, the name is out of 1 sentence, 1 line of the log names nobody now, 1 visit is ended.",
        ),
    ],
)
def test_what_went_is_said_in_words(rows, sentences, log_lines, visits, words):
    assert Erased(rows, sentences, log_lines, visits).words == words


def test_lines_of_the_log_that_name_the_child_name_nobody_and_others_stay(cast, child):
    pair = f"team:{cast.team_a.pk} member:{child.pk}"
    note_in_audit(cast.club, cast.coach, "moved", pair, now=NOW)
    link = child.summary_links.first()
    note_in_audit(cast.club, link, "looked", f"team:{cast.team_a.pk}", now=NOW)
    of_another = AuditEntry.objects.filter(subject=f"member:{cast.member_a.pk}")
    assert (before := of_another.count()) > 0
    erase_child(child, cast.coach, now=NOW)
    assert AuditEntry.objects.get(verb="moved").subject == f"team:{cast.team_a.pk}"
    looked = AuditEntry.objects.get(verb="looked")
    assert (looked.actor, looked.subject) == ("summarylink", f"team:{cast.team_a.pk}")
    assert of_another.count() == before
    assert AuditEntry.objects.filter(subject="an erased child").exists()


def test_the_support_log_forgets_the_child_and_its_rows_and_nothing_else(cast, child):
    def support_changed(row):
        kind = ContentType.objects.get_for_model(type(row))
        return LogEntry.objects.create(
            user=cast.coach.user,
            content_type=kind,
            object_id=str(row.pk),
            object_repr=str(row),
            action_flag=CHANGE,
            change_message="[]",
        )

    here = support_changed(child.memberships.get())
    others = [
        support_changed(cast.member_a),
        support_changed(cast.member_a.memberships.get()),
        support_changed(make.RobotFactory(pk=child.pk, club=cast.club)),  # of another kind, with the child's number
    ]
    erase_child(child, cast.coach, now=NOW)
    gone = LogEntry.objects.filter(object_id=None)
    assert {(one.object_repr, one.change_message) for one in gone} == {("(erased)", "")}
    assert gone.count() == 2 and here in gone
    for other in others:
        before = (other.object_id, other.object_repr, other.change_message)
        other.refresh_from_db()
        assert (other.object_id, other.object_repr, other.change_message) == before


def test_whoever_looks_at_the_childs_page_is_shut_out(cast, child):
    guardian = signed_in_with(**{FAMILY_KEY: make.SummaryLinkFactory(member=child).pk})
    told = signed_in_with(_messages=f"{NAME} is saved.", club=7)
    erase_child(child, cast.coach, now=NOW)
    assert guardian.get("/family/").status_code == 404
    assert NAME not in str([session.get_decoded() for session in BrowserSession.objects.all()])
    assert told.session["club"] == 7


def test_another_club_with_a_child_of_that_name_keeps_it(cast, child):
    other = make.MemberFactory(club=cast.other_coach.club, nickname=NAME)
    write_words(other, cast.other_coach, learnt=f"{NAME} sings", working_on="x", ask_at_home="y", approve=True, now=NOW)
    erase_child(child, cast.coach, now=NOW)
    other.refresh_from_db()
    assert other.nickname == NAME and other.summary_words.get().learnt == f"{NAME} sings"


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("Al, AL and Al's", "-, - and -'s"),
        ("Also Sal and al.", "Also Sal and al."),
        ("(Al)", "(-)"),
    ],
)
def test_a_name_is_a_word_by_itself_as_written_or_in_capitals(text, left):
    assert name_pattern("Al").sub("-", text) == left


@pytest.mark.django_db(transaction=True)
def test_no_file_holds_the_name_any_more(cast, child):
    """Free pages, the write-ahead log and all of the data folder; the child's former name as well.

    Source of the way: https://sqlite.org/pragma.html (secure_delete, wal_checkpoint), https://sqlite.org/lang_vacuum.html
    """
    rename_member(child, "Sanderlingus", cast.coach, now=NOW)  # leaves the former name in pages and log
    if connection.vendor == "sqlite":
        assert files_with(NAME) and files_with("Sanderlingus")
    QuickNote.objects.update(text="x")
    erase_child(child, cast.coach, now=NOW)
    for label in ("notes",):
        cast.club.terms.get().sessions.update(**{label: ""})
    Attempt.objects.update(note="")
    Job.objects.all().delete()
    cast.member_a.summary_words.all().delete()
    assert scrub_remains() is True
    assert "Sanderlingus" not in everything() and NAME not in everything()
    assert files_with(NAME) == files_with("Sanderlingus") == []


#: Prints the names of files that hold a text. In a process of its own: whoever opens and closes a file of a SQLite database
#: lets go of every lock that its process has there (https://sqlite.org/howtocorrupt.html, 2.2), and spoils what comes after.
LOOK = """
import pathlib, sys
name, *folders = sys.argv[1:]
files = {path for folder in folders for path in pathlib.Path(folder).rglob("*") if path.is_file()}
print(*sorted(path.name for path in files if name.encode() in path.read_bytes()), sep="\\n")
"""


def files_with(name: str) -> list[str]:
    folders = {Path(settings.DATA_DIR)}
    if connection.vendor == "sqlite":
        folders.add(Path(connection.settings_dict["NAME"]).parent)
    look = [sys.executable, "-c", LOOK, name, *map(str, folders)]
    return subprocess.run(look, check=True, capture_output=True, text=True).stdout.split()


# The command and the page


def test_the_command_says_what_it_did(cast, child, capsys):
    call_command("erase_child", cast.club.name, NAME)
    said = capsys.readouterr().out
    assert "a child is erased" in said and NAME not in said and not Member.objects.filter(nickname=NAME).exists()
    assert AuditEntry.objects.get(verb="erased child").actor == "command"


def test_the_command_refuses_who_is_not_there_and_whoever_could_be_two(cast, child):
    make.MemberFactory(club=cast.club, nickname=NAME)
    for arguments, words in (
        (("No such club", NAME), "no club called"),
        ((cast.club.name, "Nobody"), "no child of that club called"),
        ((cast.club.name, NAME), f"say its number: {child.pk}, "),
    ):
        with pytest.raises(CommandError, match=words) as refused:
            call_command("erase_child", *arguments)
        assert refused.value.returncode == 2
    assert Member.objects.filter(nickname=NAME).count() == 2
    call_command("erase_child", cast.club.name, str(child.pk))
    assert not Member.objects.filter(pk=child.pk).exists()


def test_the_page_says_what_goes_and_erases_only_by_the_typed_name(cast, child):
    url = reverse("child_erase", args=[child.pk])
    page = page_of(cast.as_coach.get(url))
    assert "within seven days" in page and "runs, plans and totals stay" in page
    wrong = cast.as_coach.post(url, {"nickname": "Robin"})
    assert wrong.status_code == 422 and Member.objects.filter(pk=child.pk).exists()
    answer = cast.as_coach.post(url, {"nickname": NAME}, follow=True)
    assert "Erased:" in page_of(answer) and not Member.objects.filter(pk=child.pk).exists()
