"""A club goes out as one file and comes in elsewhere as it was: every row, every link, nothing that opens a door."""

from __future__ import annotations

import gzip
import io
import json
import threading

import pytest
from django.apps import apps
from django.db import connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from classroom.models import AuditEntry, Team, User
from classroom.records.archive import write as writing
from classroom.records.archive.seal import said_sum
from classroom.records.archive.shape import FIELDS_LEFT_BEHIND, LEFT_BEHIND, STAYS_BEHIND, archived_kinds
from classroom.records.archive.write import export_club
from classroom.records.kept import FREE_TEXT, KEPT, OF_NOBODY
from classroom.records.services import import_club as coming_in
from classroom.records.services.import_club import import_club
from missions.models import Attempt, PlanTry
from tests import factories as make
from tests.classroom.records.whole_club import forget_club, plain_rows, whole_club

NOW = make.NOW


def archive_of(club):
    out = io.BytesIO()
    export_club(club, out, now=NOW)
    out.seek(0)
    return out


def lines_of(archive):
    return [json.loads(line) for line in gzip.decompress(archive.getvalue()).splitlines()]


@pytest.fixture
def club(db):
    for _ in range(3):
        make.MembershipFactory()  # others were here before, so that numbers differ
    return whole_club()


def without_what_stays(rows):
    """What a club is to have elsewhere: the import's own line of the log apart."""
    kept = {label: [dict(row) for row in found] for label, found in rows.items() if label not in LEFT_BEHIND}
    for label, fields in FIELDS_LEFT_BEHIND.items():
        for row in kept[label]:
            for field in fields:
                del row[field]
    kept["classroom.AuditEntry"] = [
        row for row in kept["classroom.AuditEntry"] if row["verb"] != "came in from an archive"
    ]
    return kept


def test_every_model_is_archived_or_stays_behind_for_a_reason():
    archived = {kind.label for kind in archived_kinds()}
    assert not archived & set(LEFT_BEHIND)
    assert archived | set(LEFT_BEHIND) == {model._meta.label for model in apps.get_models()}
    assert archived | set(LEFT_BEHIND) == set(KEPT) | OF_NOBODY
    for kind in archived_kinds():
        assert not kind.model._meta.many_to_many or kind.model is User
        left = set(FIELDS_LEFT_BEHIND.get(kind.label, {}))
        here = {field.name for field in kind.model._meta.concrete_fields if not field.primary_key}
        assert set(kind.columns) | left == here and not set(kind.columns) & left
    reasons = [*LEFT_BEHIND.values(), *(reason for fields in FIELDS_LEFT_BEHIND.values() for reason in fields.values())]
    assert all(reason.endswith(".") for reason in reasons)


def test_the_page_names_each_secret_that_stays_behind(cast):
    secret = {label for label, why in LEFT_BEHIND.items() if why.startswith("A secret")}
    secret |= {
        label for label, left in FIELDS_LEFT_BEHIND.items() if any(why.startswith("A secret") for why in left.values())
    }
    assert {label for each in STAYS_BEHIND for label in each.labels} == secret
    page = cast.as_coach.get("/settings/data/").content.decode()
    assert all(str(each.what) in page and str(each.then) in page for each in STAYS_BEHIND)


def test_what_stays_behind_is_no_more_than_secrets_and_this_installations_own():
    assert not set(FREE_TEXT) & set(LEFT_BEHIND) - {"planning.Job"}
    secrets = [
        f"{model._meta.label}.{field.name}"
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if any(word in field.name for word in ("digest", "hash", "password", "code", "secret", "token", "data"))
    ]
    kept = {f"{kind.label}.{name}" for kind in archived_kinds() for name in kind.columns}
    assert set(secrets) & kept == {"missions.Attempt.body_digest"}  # of what a tablet sent, which the row itself says


def test_a_club_with_rows_of_every_kind_comes_in_as_it_was(club):
    before = plain_rows(club)
    assert all(before[kind.label] for kind in archived_kinds()), "the test's club lacks a kind"
    archive = archive_of(club)
    uuids = set(Attempt.objects.filter(team__club=club).values_list("uuid", flat=True))
    forget_club(club)
    came = import_club(archive, now=NOW)
    assert (
        without_what_stays(plain_rows(came.club))["classroom.AuditEntry"]
        != without_what_stays(before)["classroom.AuditEntry"]
    )
    after, then = without_what_stays(plain_rows(came.club)), without_what_stays(before)
    for label in then:
        if label != "classroom.AuditEntry":  # its lines name rows by their numbers
            assert after[label] == then[label], label
    assert came.club.uuid == club.uuid and set(Attempt.objects.values_list("uuid", flat=True)) == uuids
    assert came.rows == sum(came.head.counts.values()) and came.head.made_here


def test_the_log_names_the_same_rows_by_their_new_numbers_and_nobody_where_they_stayed_behind(club):
    archive = archive_of(club)
    forget_club(club)
    here = import_club(archive, now=NOW).club
    team, lead = Team.objects.get(club=here, name="Curlew"), here.coaches.order_by("pk").first()
    tier, course = team.progress.get().tier, team.courses.get()
    told = AuditEntry.objects.filter(club=here, verb="did").order_by("pk").values_list("actor", "subject")
    assert list(told) == [
        (f"coach:{lead.pk}", f"team:{team.pk} tier:{tier.pk}"),
        ("summarylink:0", f"course:{course.pk}"),
        ("system", f"mission:{tier.mission_id} v1"),
        (f"coach:{lead.pk}", "link:0"),
        ("support:0", "asked by ticket:12, twice"),
    ]


def test_taken_elsewhere_and_on_again_it_is_the_same_file_line_by_line(club, monkeypatch):
    """Also when a kind has more rows than are read or written at a time."""
    monkeypatch.setattr(writing, "CHUNK", 2)
    monkeypatch.setattr(coming_in, "BATCH", 2)
    first = archive_of(club)
    forget_club(club)
    here = import_club(first, now=NOW).club
    AuditEntry.objects.filter(club=here, verb="came in from an archive").delete()
    assert lines_of(archive_of(here))[:-1] == lines_of(first)[:-1]


def test_nothing_in_it_opens_a_door_and_nobody_comes_in_with_what_they_had(club):
    team = club.teams.get(name="Curlew")
    raw = gzip.decompress(archive_of(club).getvalue()).decode()
    secrets = [team.join_code, team.pin_hash, *User.objects.values_list("password", flat=True)]
    secrets += [club.calendar_feed.token_digest, club.invitations.get().token_digest]
    secrets += [link.token_digest for link in team.memberships.get().member.summary_links.all()]
    assert all(len(secret) > 7 and secret not in raw for secret in secrets)
    archive = archive_of(club)
    forget_club(club)
    came = import_club(archive, now=NOW)
    here = came.club
    fresh = here.teams.get(name="Curlew")
    assert fresh.join_code != team.join_code and fresh.pin_hash.startswith("!")
    lead = here.coaches.get(left_at=None)
    assert [one.user for one in came.to_let_in] == [lead.user] and not came.known
    assert not lead.user.has_usable_password() and not (lead.user.is_staff or lead.user.is_superuser)


def test_a_coach_who_has_an_account_here_keeps_it(club):
    address = club.coaches.get(left_at=None).user.email
    archive = archive_of(club)
    forget_club(club)
    known = make.UserFactory(email=address.upper(), first_name="Avocet", password="kept")
    came = import_club(archive, now=NOW)
    known.refresh_from_db()
    assert [one.user for one in came.known] == [known] and not came.to_let_in
    assert (known.first_name, known.password, User.objects.filter(email__iexact=known.email).count()) == (
        "Avocet",
        "kept",
        1,
    )


def test_an_archive_made_elsewhere_says_so(club, settings):
    archive = archive_of(club)
    forget_club(club)
    settings.SECRET_KEY = "another installation's own " * 3
    came = import_club(archive, now=NOW)
    assert not came.head.made_here and len(said_sum(came.head.digest)) == 24


words = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=40)
numbers = st.floats(-5000, 5000)
documents = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | numbers | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=8,
)
moments = st.datetimes(
    min_value=NOW.replace(year=1990, tzinfo=None),
    max_value=NOW.replace(year=2090, tzinfo=None),
    timezones=st.just(NOW.tzinfo),
)


@st.composite
def runs(draw):
    return {
        "note": draw(words), "change_to_try": draw(words), "made_at": draw(moments), "lateral_mm": draw(st.none() | numbers),
        "duration_s": draw(st.none() | st.floats(0.001, 3600)), "said_before": draw(st.none() | st.dictionaries(words, documents)),
        "outcomes": draw(st.dictionaries(words, st.booleans(), max_size=3)), "uuid": draw(st.uuids()),
        "withdrawn_at": draw(st.none() | moments),
    }  # fmt: skip


@pytest.mark.django_db
@settings(max_examples=8)
@given(
    st.lists(runs(), max_size=6, unique_by=lambda run: run["uuid"]), st.lists(words.filter(bool), max_size=3), documents
)
def test_whatever_a_club_has_written_down_comes_in_as_it_was(made, names, document):
    """Texts of any alphabet, numbers to the last digit, moments to the microsecond, documents of any shape."""
    with transaction.atomic():
        club = make.ClubFactory(readiness_policy={"any": document})
        team = make.TeamFactory(club=club)
        edition = make.TierVersionFactory(version__mission__club=club)
        for name in names:
            make.MembershipFactory(team=team, member__nickname=name[:24], joined_on=NOW.date())
        kept = [make.AttemptFactory(team=team, tier_version=edition, **run) for run in made]
        for one, other in zip(kept[::2], kept[1::2], strict=False):
            Attempt.objects.filter(pk=one.pk).update(replaced_by=other)
        before, archive = plain_rows(club), archive_of(club)
        forget_club(club)
        after = plain_rows(import_club(archive, now=NOW).club)
        for label in (
            "classroom.Club",
            "classroom.Member",
            "classroom.Membership",
            "missions.Attempt",
            "missions.TierVersion",
        ):
            assert after[label] == before[label]
        transaction.set_rollback(True)


@pytest.mark.django_db(transaction=True)
def test_while_others_write_it_is_one_moment_and_keeps_nobody_waiting(monkeypatch):
    """Somebody writes a run and its try while the archive is half done: it has neither, and both are kept."""
    club, wrote = whole_club(), []

    def write() -> None:
        with transaction.atomic():
            PlanTry.objects.filter(team__club=club).update(words="later")
            Attempt.objects.filter(team__club=club).update(note="later")
        wrote.append(True)
        connection.close()

    def put_kind(kind, *rest):
        if kind.label == "missions.PlanTry":
            somebody = threading.Thread(target=write)
            somebody.start()
            somebody.join()
        return original(kind, *rest)

    original = writing._put_kind
    monkeypatch.setattr(writing, "_put_kind", put_kind)
    rows = gzip.decompress(archive_of(club).getvalue()).decode()
    assert wrote == [True] and '"later"' not in rows and Attempt.objects.filter(note="later").count() == 3
