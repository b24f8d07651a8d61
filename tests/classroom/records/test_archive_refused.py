"""What is no archive, is damaged, too big, newer, or does not fit is refused whole: nothing is changed."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from classroom.errors import HelmroomError
from classroom.models import Club
from classroom.records.archive import read as reading
from classroom.records.archive.seal import said_sum
from classroom.records.archive.write import export_club
from classroom.records.backup import counts_now
from classroom.records.services.import_club import import_club
from tests import factories as make
from tests.classroom.records.whole_club import forget_club, whole_club

NOW = make.NOW


@pytest.fixture
def raw(db):
    """An archive of a club that is not here."""
    club, out = whole_club(), io.BytesIO()
    export_club(club, out, now=NOW)
    forget_club(club)
    return out.getvalue()


def refused(data, **more):
    before = counts_now()
    with pytest.raises(HelmroomError) as error:
        import_club(io.BytesIO(data), now=NOW, **more)
    assert counts_now() == before and "Nothing was changed." in error.value.message
    return error.value


def sealed(lines):
    """As somebody makes it who changes what he likes and works the sum out anew."""
    kind, counts = "", {}
    for line in lines[1:-1]:
        if isinstance(line, dict):
            kind = line["rows"]
            counts.setdefault(kind, 0)
        elif not isinstance(line, bytes):
            counts[kind] += 1
    said = [line if isinstance(line, bytes) else json.dumps(line).encode() for line in lines[:-1]]
    body = b"".join(line + b"\n" for line in said)
    end = {"end": counts, "sum": hashlib.sha256(body).hexdigest(), "signature": "0" * 64}
    return gzip.compress(body + json.dumps(end).encode() + b"\n")


def lines_of(raw):
    return [json.loads(line) for line in gzip.decompress(raw).splitlines()]


def changed(raw, kind, field, value, row=0):
    """With one value of one row changed; ``field`` None drops the row's last value."""
    lines = lines_of(raw)
    at = next(n for n, line in enumerate(lines) if isinstance(line, dict) and line.get("rows") == kind)
    values = lines[at + 1 + row]
    if field is None:
        values.pop()
    else:
        values[lines[at]["fields"].index(field)] = value
    return sealed(lines)


def test_an_archive_with_its_sum_worked_out_anew_comes_in_as_made_elsewhere(raw):
    """So that the refusals below are for what they name, and not for how the test made them."""
    came = import_club(io.BytesIO(sealed(lines_of(raw))), now=NOW)
    assert not came.head.made_here and came.club.teams.count() == 2


@settings(max_examples=12)
@given(data=st.data())
def test_cut_off_anywhere_or_with_a_bit_turned_it_is_refused(data, archive_bytes):
    cut = data.draw(st.integers(0, len(archive_bytes) - 1))
    at, bit = data.draw(st.integers(10, len(archive_bytes) - 1)), data.draw(st.integers(0, 7))
    turned = bytearray(archive_bytes)
    turned[at] ^= 1 << bit
    for bad in (archive_bytes[:cut], bytes(turned)):
        try:
            reading.look_through(io.BytesIO(bad))
        except HelmroomError as error:
            assert error.code in ("archive_damaged", "not_an_archive", "archive_newer")
        else:
            pytest.fail("a damaged archive was taken for a whole one")


@pytest.fixture(scope="module")
def archive_bytes(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock():
        club, out = whole_club(), io.BytesIO()
        export_club(club, out, now=NOW)
        forget_club(club)
        forgotten = Club.objects.count()
    assert not forgotten
    return out.getvalue()


def test_what_is_no_archive_is_called_that(raw):
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w") as files:
        files.writestr("club", raw)
    others = [b"", b"no archive", box.getvalue(), gzip.compress(raw), gzip.compress(b""), gzip.compress(b"[1]\n")]
    others += [gzip.compress(b'{"format": "helmroom.scene/1"}\n'), gzip.compress(b"\x00" * 100)]
    assert {refused(other).code for other in others} == {"not_an_archive"}


def test_one_from_a_newer_helmroom_asks_for_a_newer_one(raw):
    for key, value in (("format", "helmroom.club/2"), ("made_with", {"classroom": "0999_more"}), ("made_with", None)):
        lines = lines_of(raw)
        lines[0][key] = value
        error = refused(sealed(lines))
        assert error.code == "archive_newer" and "up to date" in error.message


def test_a_changed_sum_count_or_row_is_damage(raw):
    for change in ({"sum": "0" * 64}, {"end": {}}, {"signature": None}):
        lines = lines_of(raw)
        lines[-1] |= change
        packed = gzip.compress(b"".join(json.dumps(line).encode() + b"\n" for line in lines))
        assert refused(packed).code == "archive_damaged"
    body = gzip.decompress(raw)
    for bad in (body.replace(b"Curlew", b"Plover"), body + b"[]\n", body[: body.rindex(b'{"end"')]):
        assert refused(gzip.compress(bad)).code == "archive_damaged"


def test_one_with_another_sum_than_was_said_is_refused(raw):
    digest = lines_of(raw)[-1]["sum"]
    for said in ("0123-4567-89ab-cdef-0123", said_sum(digest)[:9]):
        assert refused(raw, said_sum=said).code == "other_sum"
    assert import_club(io.BytesIO(raw), said_sum=said_sum(digest).upper(), now=NOW).club


def test_too_big_it_is_left_alone_before_it_fills_the_memory(raw, monkeypatch):
    monkeypatch.setattr(reading, "MOST_BYTES", 100_000)
    bomb = sealed([*lines_of(raw)[:-1], *([[0] * 1000] * 100), {}])
    assert len(bomb) < 20_000 and refused(bomb).code == "too_big"
    monkeypatch.setattr(reading, "MOST_BYTES_OF_LINE", 5000)
    assert refused(changed(raw, "classroom.Session", "notes", "x" * 6000)).code == "too_big"


def nested(deep):
    return b"[" * deep + b"]" * deep


@pytest.mark.parametrize("deep", [40, 100_000])
def test_documents_nested_without_end_are_refused(raw, deep):
    lines = lines_of(raw)
    at = next(n for n, line in enumerate(lines) if isinstance(line, dict) and line.get("rows") == "classroom.Club")
    row = json.dumps(lines[at + 1]).encode().replace(json.dumps({"bar": 0.65}).encode(), nested(deep))
    body = [json.dumps(line).encode() for line in lines[:-1]]
    body[at + 1] = row
    whole = b"".join(line + b"\n" for line in body)
    end = lines[-1] | {"sum": hashlib.sha256(whole).hexdigest()}
    error = refused(gzip.compress(whole + json.dumps(end).encode() + b"\n"))
    assert error.code in ("archive_unfit", "archive_damaged")


@pytest.mark.parametrize(
    ("kind", "field", "value"),
    [
        ("missions.Attempt", "team", 999),  # another club's keys
        ("missions.Attempt", "team", -1),
        ("missions.Attempt", "team", True),
        ("missions.Attempt", "team", None),
        ("missions.Attempt", "replaced_by", 999),
        ("missions.Attempt", "success", 1),
        ("missions.Attempt", "duration_s", float("inf")),
        ("missions.Attempt", "duration_s", "3"),
        ("missions.Attempt", "duration_s", -3.0),  # the database's own rule
        ("missions.Attempt", "at_target", 2**40),
        ("missions.Attempt", "uuid", "none"),
        ("missions.Attempt", "made_at", "2026-11-18T16:00:00"),
        ("missions.Attempt", "note", "x" * 301),
        ("missions.Attempt", "note", "a\x00b"),
        ("missions.Attempt", "note", "\ud800"),
        ("missions.Attempt", "cause", "magic"),
        ("missions.Attempt", "outcomes", {"a": float("nan")}),
        ("missions.Attempt", "outcomes", {"a": "\x00"}),
        ("missions.Attempt", None, None),
        ("classroom.Membership", "joined_on", "yesterday"),
        ("classroom.User", "email", "no address"),
        ("classroom.Club", "uuid", "01234567-89ab-cdef-0123-456789abcdef"),
    ],
)
def test_a_value_that_does_not_fit_is_refused(raw, kind, field, value):
    assert refused(changed(raw, kind, field, value)).code in ("archive_unfit", "archive_damaged")


def test_another_shape_than_a_clubs_is_refused(raw):
    for change in (
        lambda lines: lines.insert(-1, {"rows": "auth.Group", "fields": ["name"]}),
        lambda lines: lines.insert(-1, {"rows": "planning.Job", "fields": ["kind"]}),
        lambda lines: lines[1]["fields"].append("is_superuser"),
        lambda lines: lines[1].update(fields=lines[1]["fields"][:-1] + lines[1]["fields"][:1]),
        lambda lines: lines.insert(2, lines[2]),  # two clubs
        lambda lines: lines.insert(2, b'["a", {"b": 1, "b": 2}]'),
        lambda lines: lines.insert(2, b"[1e999]"),
        lambda lines: lines.insert(2, b'"words"'),
    ):
        lines = lines_of(raw)
        change(lines)
        assert refused(sealed(lines)).code in ("archive_unfit", "archive_damaged")


def without(lines, kind, field=None):
    """As an older helmroom wrote it, which did not know the field, or the kind."""
    at = next(n for n, line in enumerate(lines) if isinstance(line, dict) and line.get("rows") == kind)
    after = next(n for n in range(at + 1, len(lines)) if isinstance(lines[n], dict))
    if field is None:
        del lines[at:after]
        return sealed(lines)
    place = lines[at]["fields"].index(field)
    lines[at]["fields"].pop(place)
    for row in lines[at + 1 : after]:
        row.pop(place)
    return sealed(lines)


def test_what_an_older_helmroom_did_not_know_may_be_missing_where_it_may_be_empty(raw):
    assert refused(without(lines_of(raw), "missions.Attempt", "made_at")).code == "archive_unfit"
    assert refused(without(lines_of(raw), "classroom.Club")).code == "archive_unfit"
    lines = lines_of(raw)
    for kind, field in (("missions.Attempt", "at_target"), ("missions.Attempt", "guess"), ("missions.TeamJob", None)):
        lines = lines_of(without(lines, kind, field))
    here = import_club(io.BytesIO(sealed(lines)), now=NOW).club
    assert not here.teams.get(name="Curlew").jobs_of_turns.exists()
    assert set(here.teams.get(name="Curlew").attempts.values_list("at_target", "guess")) == {(0, "")}


def test_rights_do_not_come_in_by_an_archive(raw):
    lines = lines_of(raw)
    at = next(n for n, line in enumerate(lines) if isinstance(line, dict) and line.get("rows") == "classroom.User")
    lines[at]["fields"].append("is_superuser")
    for n in range(at + 1, len(lines)):
        if isinstance(lines[n], dict):
            break
        lines[n].append(True)
    assert refused(sealed(lines)).code == "archive_unfit"


def test_a_club_that_is_here_already_and_runs_of_another_club_are_refused(raw):
    here = import_club(io.BytesIO(raw), now=NOW).club
    error = refused(raw)
    assert error.code == "there_already" and "here already" in error.message
    Club.objects.filter(pk=here.pk).update(uuid="01234567-89ab-cdef-0123-456789abcdef")
    assert refused(raw).code == "archive_unfit"  # its runs' UUIDs are
