"""The club itself: opened, set up, its log and its rows in order."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.club.services.audit import actor_label, note_in_audit
from classroom.club.services.open_club import open_club
from classroom.club.services.row_order import move_up
from classroom.club.services.save_club import FIELDS, club_mark, save_club, set_club_clock
from classroom.errors import ConflictError, InputError
from classroom.families.share_summary import digest_of
from classroom.models import AuditEntry, Club, Invitation, Team
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
VALUES = {
    "name": "Harbour Club",
    "unit": "in",
    "time_zone": "Europe/Oslo",
    "locale": "de",
    "retention_days": 500,
    "tells_jobs": True,
    "measures_by_camera": False,
}


@pytest.mark.parametrize(
    ("actor", "label"),
    [
        (lambda c: None, "system"),
        (lambda c: "worker", "worker"),
        (lambda c: c.coach, "coach:{coach.pk}"),
        (lambda c: c.team_a, "team:{team_a.pk}"),
        (lambda c: c.member_a, "member:{member_a.pk}"),
        (lambda c: c.link_a, "summarylink:{link_a.pk}"),
    ],
)
def test_who_did_it_stands_in_the_log_by_kind_and_number(cast, actor, label):
    assert actor_label(actor(cast)) == label.format(**vars(cast))


def test_an_entry_is_kept_with_its_club_and_moment_and_cut_to_its_columns(cast):
    entry = note_in_audit(cast.club, "a" * 61, "v" * 41, "s" * 81, now=NOW)
    kept = AuditEntry.objects.get(pk=entry.pk)
    assert (kept.club, kept.at) == (cast.club, NOW)
    assert (kept.actor, kept.verb, kept.subject) == ("a" * 60, "v" * 40, "s" * 80)
    assert note_in_audit(cast.club, None, "tidied", now=NOW).subject == ""


@pytest.mark.django_db
def test_a_club_is_opened_with_an_invitation_for_its_lead():
    invitation, token = open_club("Harbour Club", "lead@example.org", unit="in", time_zone="Europe/Oslo", now=NOW)
    club = Club.objects.get()
    assert (club.name, club.unit, club.time_zone, club.created_at) == ("Harbour Club", "in", "Europe/Oslo", NOW)
    row = Invitation.objects.get(pk=invitation.pk)
    assert (row.club, row.email, row.role, row.invited_by) == (club, "lead@example.org", "lead", None)
    assert (row.created_at, row.expires_at, row.token_digest) == (NOW, NOW + dt.timedelta(days=7), digest_of(token))
    entry = AuditEntry.objects.get()
    assert (entry.club, str(entry), entry.at) == (club, f"system opened club club:{club.pk}", NOW)


def test_the_clock_of_one_club_is_set_told_and_noted(cast):
    other = cast.other_coach.club.time_zone
    assert noted_by(lambda: set_club_clock(cast.club, cast.coach, "Europe/Oslo", now=NOW), cast.club, NOW) == [
        "lead set the clock (club Saltmarsh Makers Club)"
    ]
    zones = dict(Club.objects.values_list("pk", "time_zone"))
    assert (zones[cast.club.pk], zones[cast.other_coach.club_id]) == ("Europe/Oslo", other) and other != "Europe/Oslo"
    assert tells_live_pages(lambda: set_club_clock(cast.club, cast.coach, "Europe/Riga", now=NOW), cast.club)


def test_a_city_that_is_in_no_list_is_refused(cast):
    before = cast.club.time_zone
    with pytest.raises(InputError) as refused:
        set_club_clock(cast.club, cast.coach, "Europe/Saltmarsh", now=NOW)
    assert (refused.value.code, refused.value.message) == (
        "no_such_zone",
        "That city is not in the list. Choose one of the list.",
    )
    assert Club.objects.get(pk=cast.club.pk).time_zone == before and not AuditEntry.objects.exists()


def test_settings_are_kept_told_and_noted(cast):
    assert noted_by(lambda: save_club(cast.club, cast.coach, VALUES, now=NOW), cast.club, NOW) == [
        "lead changed settings (club Harbour Club)"
    ]
    club = Club.objects.get(pk=cast.club.pk)
    assert {field: getattr(club, field) for field in FIELDS} == VALUES
    assert tells_live_pages(lambda: save_club(cast.club, cast.coach, VALUES, now=NOW), cast.club)


@pytest.mark.parametrize("field", VALUES)
def test_a_clubs_mark_changes_with_each_of_its_settings(cast, field):
    before = club_mark(cast.club)
    setattr(cast.club, field, VALUES[field])
    assert club_mark(cast.club) != before


def test_the_slower_of_two_hears_who_changed_the_settings(cast):
    seen = club_mark(cast.club)
    save_club(cast.club, cast.assistant, VALUES, now=NOW)
    with pytest.raises(ConflictError, match=f"^{cast.assistant} changed this"):
        save_club(cast.club, cast.coach, VALUES | {"name": "Other"}, seen=seen, now=NOW)
    assert Club.objects.get(pk=cast.club.pk).name == "Harbour Club"


def order_of(club):
    return [(team.name, team.order) for team in Team.objects.filter(club=club)]


@pytest.mark.parametrize(
    ("which", "order"),
    [
        ("A", [("A", 0), ("B", 1), ("C", 2)]),
        ("B", [("B", 0), ("A", 1), ("C", 2)]),
        ("C", [("A", 0), ("C", 1), ("B", 2)]),
    ],
)
@pytest.mark.parametrize("gaps", [(0, 1, 2), (0, 0, 0), (3, 5, 9)])
def test_a_row_goes_one_place_up_and_the_first_stays(gaps, which, order, db):
    club = make.ClubFactory()
    teams = {name: make.TeamFactory(club=club, name=name, order=n) for name, n in zip("ABC", gaps, strict=True)}
    assert tells_live_pages(lambda: move_up(Team.objects.filter(club=club), teams[which]), club)
    assert order_of(club) == order


def test_a_row_that_is_not_among_them_moves_nothing(db):
    club = make.ClubFactory()
    for n, name in enumerate("AB"):
        make.TeamFactory(club=club, name=name, order=n)
    stranger = make.TeamFactory()
    move_up(Team.objects.filter(club=club), stranger)
    assert order_of(club) == [("A", 0), ("B", 1)] and Team.objects.get(pk=stranger.pk).order == stranger.order
