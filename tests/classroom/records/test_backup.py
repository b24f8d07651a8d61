"""A copy is whole, is made while others write, is refused when it is none, and comes back row by row."""

from __future__ import annotations

import datetime as dt
import sqlite3
import threading

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from classroom.errors import ConflictError, InputError
from classroom.models import Club, Member, SignInFailure
from classroom.records.backup import backup, counts_now, keep_daily_copies, restore
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def club(transactional_db):
    club = make.ClubFactory(name="Saltmarsh Makers Club")
    for name in ("Robin", "Linnet"):
        make.MemberFactory(club=club, nickname=name)
    return club


def test_a_copy_comes_back_row_by_row(club, tmp_path):
    rows = {model: list(model.objects.order_by("pk").values()) for model in (Club, Member)}
    counts = backup(tmp_path / "copy")
    assert counts["classroom_member"] == 2 and oct((tmp_path / "copy").stat().st_mode & 0o777) == "0o600"
    Club.objects.all().delete()
    assert restore(tmp_path / "copy")["classroom_member"] == 2
    assert {model: list(model.objects.order_by("pk").values()) for model in (Club, Member)} == rows


def test_a_copy_goes_into_an_empty_place_only_and_over_no_file(club, tmp_path):
    backup(tmp_path / "copy")
    with pytest.raises(ConflictError, match="There is a club here already"):
        restore(tmp_path / "copy")
    with pytest.raises(ConflictError, match="give the copy another name"):
        backup(tmp_path / "copy")
    with pytest.raises(CommandError, match="There is a club here already") as refused:
        call_command("restore", str(tmp_path / "copy"))
    assert refused.value.returncode == 2 and Member.objects.count() == 2


def test_what_is_no_copy_or_is_cut_off_is_refused_and_nothing_changes(club, tmp_path):
    backup(tmp_path / "copy")
    Club.objects.all().delete()
    before = counts_now()
    whole = (tmp_path / "copy").read_bytes()
    for name, content in (("cut", whole[: len(whole) // 2]), ("empty", b""), ("words", b"no copy at all")):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(InputError) as refused:
            restore(tmp_path / name)
        assert refused.value.code == "not_a_copy"
    with pytest.raises(InputError):
        restore(tmp_path / "nowhere")
    assert counts_now() == before


def test_a_copy_is_one_moment_while_others_write(club, tmp_path):
    """Each writer adds two rows or none: in no copy is there an odd one."""
    stop = threading.Event()
    wrote = []

    def write() -> None:
        from django.db import transaction

        while not stop.is_set():
            with transaction.atomic():
                for _ in range(2):
                    SignInFailure.objects.create(source="192.0.2.7", kind="team", at=NOW)
            wrote.append(1)
        connection.close()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        counts = [backup(tmp_path / f"copy{n}") for n in range(3)]
    finally:
        stop.set()
        writer.join()
    assert SignInFailure.objects.count() == 2 * len(wrote)  # nothing that was written is lost
    if connection.vendor == "sqlite":
        assert all(each["classroom_signinfailure"] % 2 == 0 for each in counts)


def test_the_newest_seven_days_stay(club, tmp_path):
    if connection.vendor != "sqlite":
        assert keep_daily_copies(tmp_path, NOW.date()) is None
        return
    for day in range(9):
        made = keep_daily_copies(tmp_path, NOW.date() + dt.timedelta(days=day))
    assert made == keep_daily_copies(tmp_path, NOW.date() + dt.timedelta(days=8))
    assert [path.stem[-5:] for path in sorted(tmp_path.iterdir())] == [f"11-{20 + n}" for n in range(7)]
    keep_daily_copies(tmp_path, NOW.date() + dt.timedelta(days=60))
    (only,) = tmp_path.iterdir()
    assert sqlite3.connect(only).execute("SELECT count(*) FROM classroom_member").fetchone() == (2,)


def test_the_command_says_what_it_did(club, tmp_path, capsys):
    call_command("backup", str(tmp_path / "copy"))
    said = capsys.readouterr().out
    assert "opened and counted" in said and "names children" in said
