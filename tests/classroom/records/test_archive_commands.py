"""The club's archive by command and by page: each says what it did, and refuses in one sentence."""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from classroom.models import AuditEntry, Club, Team
from tests.classroom.records.whole_club import forget_club, whole_club

SAMPLE = Path(settings.BASE_DIR) / "fixtures/club_archive/saltmarsh-1.jsonl"


@pytest.fixture
def club(db):
    return whole_club()


def command(name, *args, **options):
    with pytest.raises(CommandError) as refused:
        call_command(name, *map(str, args), **options)
    assert refused.value.returncode == 2
    return str(refused.value)


def test_a_club_goes_out_and_comes_in_by_command(club, tmp_path, capsys):
    lead = club.coaches.get(left_at=None).user.email
    file = tmp_path / "club.gz"
    call_command("export_club", club.name, str(file))
    out = capsys.readouterr().out
    said = re.search(r"Its sum is ([0-9a-f-]{24});", out)[1]
    assert oct(file.stat().st_mode & 0o777) == "0o600" and "names children" in out
    assert AuditEntry.objects.get(verb="took the club's archive").subject == said
    forget_club(club)
    call_command("import_club", str(file), sum=said)
    out = capsys.readouterr().out
    assert "Saltmarsh Makers Club is here" in out and "made here" in out and said in out
    link = re.search(rf"{lead}  http://testserver(\S+)", out)[1]
    assert "password1" in Client().get(link, follow=True).content.decode()


def test_commands_refuse_in_one_sentence_and_leave_no_half_of_a_file(club, tmp_path):
    file = tmp_path / "club.gz"
    call_command("export_club", str(club.pk), str(file), verbosity=0)
    before = file.read_bytes()
    assert "give the archive another name" in command("export_club", club.name, file)
    assert "no club called" in command("export_club", "Nowhere", tmp_path / "other")
    assert "No such file" in command("export_club", club.name, tmp_path / "no" / "folder")
    assert "here already" in command("import_club", file)
    assert "No such file" in command("import_club", tmp_path / "none")
    (tmp_path / "cut.gz").write_bytes(before[:-20])
    assert "cut off" in command("import_club", tmp_path / "cut.gz")
    assert file.read_bytes() == before and {path.name for path in tmp_path.iterdir()} == {"club.gz", "cut.gz"}


@pytest.mark.parametrize("name", ["export_club", "import_club"])
def test_help_has_an_example(name, capsys):
    with pytest.raises(SystemExit):
        call_command(name, "--help")
    assert f"manage.py {name}" in re.sub(r"\s+", " ", capsys.readouterr().out).split("Example:")[1]


def test_a_lead_coach_saves_it_from_the_page_and_the_log_has_its_sum(cast):
    page = cast.as_coach.get(reverse("club_data"))
    assert "Save the club’s archive" in page.content.decode() and "no-store" in page["Cache-Control"]
    answer = cast.as_coach.post(reverse("club_archive"))
    assert "no-store" in answer["Cache-Control"] and "Saltmarsh" not in answer["Content-Disposition"]
    assert answer["Content-Type"] == "application/octet-stream"  # nothing that a browser would unpack by itself
    end = json.loads(gzip.decompress(answer.getvalue()).splitlines()[-1])
    told = AuditEntry.objects.get(club=cast.club, verb="took the club's archive")
    assert told.actor == f"coach:{cast.coach.pk}" and end["sum"].startswith(told.subject.replace("-", ""))


def test_the_log_of_a_club_that_came_in_reads_as_before_without_numbers_of_elsewhere(club, tmp_path, cast):
    file = tmp_path / "club.gz"
    call_command("export_club", str(club.pk), str(file), verbosity=0)
    forget_club(club)
    call_command("import_club", str(file), verbosity=0)
    here = Club.objects.get(uuid=club.uuid)
    cast.coach.club = here
    cast.coach.save()
    words = cast.as_coach.get(reverse("audit_log")).content.decode()
    assert "a family&#x27;s link<" in words and "team Curlew, " in words and "support<" in words
    for mission in here.missions.all():
        words = words.replace(mission.title, "a mission")  # made-up ones have a number in their names, the first a 0
    assert "Came in from an archive" in words and not re.search(r"[ :]0[<, ]", words.split("<tbody>")[1])


def test_an_archive_of_the_first_version_is_read_by_every_later_helmroom_on_either_database(db, tmp_path, capsys):
    """The file was written on SQLite; the suite runs on PostgreSQL too."""
    file = tmp_path / "club.gz"
    file.write_bytes(gzip.compress(SAMPLE.read_bytes()))
    call_command("import_club", str(file))
    assert "Saltmarsh Makers Club is here" in capsys.readouterr().out
    team = Team.objects.get(name="Curlew")
    assert team.memberships.get().member.nickname == "Ruán" and team.attempts.filter(note="=1+1").count() == 3
    call_command("export_club", team.club.name, str(tmp_path / "again.gz"))
    then, now = rows_of(SAMPLE.read_bytes()), rows_of(gzip.decompress((tmp_path / "again.gz").read_bytes()))
    for kind, rows in then.items():  # what has come since is not in the file
        here = [
            {field: row[field] for field in rows[0]}
            for row in now[kind]
            if row.get("verb") != "came in from an archive"
        ]
        assert here == rows


def rows_of(lines):
    """By kind, each row by its fields' names."""
    rows, fields, found = [], [], {}
    for line in map(json.loads, lines.splitlines()[1:-1]):
        if isinstance(line, dict):
            fields, rows = line["fields"], found.setdefault(line["rows"], [])
        else:
            rows.append(dict(zip(fields, line, strict=True)))
    assert all(found.values())
    return found
