"""The shared cast: a club with two teams and every role, and another club that must never see any of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import pytest
from allauth.account.internal.flows.login import AUTHENTICATION_METHODS_SESSION_KEY
from allauth.mfa.totp.internal import auth as totp
from django.conf import settings as site
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.core.cache import caches
from django.db.backends.postgresql.operations import DatabaseOperations
from django.test import Client
from django.utils import timezone
from django.utils.crypto import get_random_string
from factory.django import DjangoModelFactory
from hypothesis import HealthCheck, settings
from whitenoise.middleware import WhiteNoiseMiddleware

from classroom.access import FAMILY_KEY, TABLET_KEY
from classroom.club.marks.measurer import measurer
from planning.preparing.kernels import compile_as_called
from tests import factories as make
from tests.patience import LONGEST_S

# A first example may compile a kernel and a machine may be busy: slowness is measured in benchmarks, not by Hypothesis.
settings.register_profile("house", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("house")
# The suite compiles as it goes. What pages say while they may not is tested in tests/planning/preparing/.
compile_as_called()
# A picture takes the time it takes on a slow or busy machine; what comes of one that takes too long has tests of its own.
measurer.longest_s = measurer.longest_wait_s = LONGEST_S


def look_for_static_files_once() -> None:
    """Each test client is a site that begins: it would look through all style sheets and scripts before its first page.

    They are the same for all. A test with a folder of its own for them looks for itself.
    """
    look, root, found = WhiteNoiseMiddleware.add_files_from_finders, site.STATIC_ROOT, {}

    def once(begun: WhiteNoiseMiddleware) -> None:
        if begun.static_root != root:
            look(begun)
            return
        if not found:
            look(begun)
            found.update(begun.files)
        begun.files = dict(found)

    WhiteNoiseMiddleware.add_files_from_finders = once


look_for_static_files_once()


def empty_tables_by_deleting() -> None:
    """After a test of threads or processes: PostgreSQL makes new files for each table that it truncates, in two seconds."""
    truncate = DatabaseOperations.sql_flush

    def delete(own: DatabaseOperations, style: Any, tables: list[str], **options: Any) -> list[str]:
        if options.get("reset_sequences"):
            return truncate(own, style, tables, **options)
        return [f"DELETE FROM {own.quote_name(table)}" for table in tables]

    DatabaseOperations.sql_flush = delete


empty_tables_by_deleting()


@pytest.fixture(autouse=True)
def nothing_tried_before() -> None:
    """Guesses at the door, and other notes of a process, of one test count against no other."""
    for cache in caches.all(initialized_only=True):
        cache.clear()


@pytest.fixture(autouse=True)
def numbered_from_the_start() -> None:
    """What is made up for a test has the same names and moments in whatever order tests run."""
    for each in DjangoModelFactory.__subclasses__():
        each.reset_sequence(0, force=True)


@dataclass
class Cast:
    """``as_coach``, ``as_team_a`` ... are signed-in test clients."""

    club: Any
    coach: Any
    assistant: Any
    observer: Any
    other_coach: Any
    team_a: Any
    team_b: Any
    robot_a: Any
    member_a: Any
    member_b: Any
    link_a: Any
    link_b: Any
    clients: dict[str, Client] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Client:
        if name.startswith("as_"):
            return self.clients[name[3:]]
        raise AttributeError(name)


def signed_in_coach(coach: Any) -> Client:
    return signed_in_user(coach.user)


def signed_in_user(user: Any) -> Client:
    """As ``Client.force_login``, by the rows that it leaves: nearly every test has four of them."""
    user.last_login = timezone.now()
    user.save(update_fields=["last_login"])
    return signed_in_with(
        **{
            SESSION_KEY: str(user.pk),
            BACKEND_SESSION_KEY: "allauth.account.auth_backends.AuthenticationBackend",
            HASH_SESSION_KEY: user.get_session_auth_hash(),
        }
    )


def signed_in_with(**keys: Any) -> Client:
    store = SessionStore()
    row = Session.objects.create(
        session_key=get_random_string(32), session_data=store.encode(keys), expire_date=store.get_expiry_date()
    )
    client = Client()
    client.cookies[site.SESSION_COOKIE_NAME] = row.session_key
    return client


@pytest.fixture
def code_of(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], str]:
    """What an authenticator shows for a secret. Its clock stands still: no code runs out on its way, which takes 30 s at most."""
    at = time.time()
    monkeypatch.setattr(totp, "time", SimpleNamespace(time=lambda: at))
    return lambda secret: totp.format_hotp_value(totp.hotp_value(secret, next(totp.yield_hotp_counters_from_time())))


def signed_in_support(staff: Any) -> Client:
    """Through both steps."""
    totp.TOTP.activate(staff, totp.generate_totp_secret())
    client = signed_in_user(staff)
    session = client.session
    session[AUTHENTICATION_METHODS_SESSION_KEY] = [{"method": "password"}, {"method": "mfa"}]
    session[f"{AUTHENTICATION_METHODS_SESSION_KEY}_user"] = str(staff.pk)
    session.save()
    return client


def signed_in_team(team: Any) -> Client:
    return signed_in_with(**{TABLET_KEY: make.TabletSessionFactory(team=team).pk})


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def make_cast() -> Cast:
    club = make.ClubFactory(name="Saltmarsh Makers Club")
    coach = make.CoachFactory(club=club, role="lead")
    assistant = make.CoachFactory(club=club, role="assistant")
    observer = make.CoachFactory(club=club, role="observer")
    other_coach = make.CoachFactory(role="lead")
    team_a = make.TeamFactory(club=club, name="Curlew")
    team_b = make.TeamFactory(club=club, name="Plover")
    robot_a = make.RobotFactory(club=club, name="Kit 1")
    make.RobotAssignmentFactory(team=team_a, robot=robot_a)
    member_a = make.MembershipFactory(team=team_a, member__nickname="Robin").member
    member_b = make.MembershipFactory(team=team_b, member__nickname="Linnet").member
    link_a = make.SummaryLinkFactory(member=member_a)
    link_b = make.SummaryLinkFactory(member=member_b)
    clients = {
        "nobody": Client(),
        "team_a": signed_in_team(team_a),
        "team_b": signed_in_team(team_b),
        "guardian_a": signed_in_with(**{FAMILY_KEY: link_a.pk}),
        "guardian_b": signed_in_with(**{FAMILY_KEY: link_b.pk}),
        "observer": signed_in_coach(observer),
        "assistant": signed_in_coach(assistant),
        "coach": signed_in_coach(coach),
        "other_coach": signed_in_coach(other_coach),
    }
    return Cast(
        club,
        coach,
        assistant,
        observer,
        other_coach,
        team_a,
        team_b,
        robot_a,
        member_a,
        member_b,
        link_a,
        link_b,
        clients,
    )
