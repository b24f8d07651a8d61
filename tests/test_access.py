"""Every address x every role. An address without a row fails."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests import factories as make
from tests.access import ROLES, Row, all_rows

ROWS = all_rows()


class World:
    """Rows of team A's club, made when an address needs them."""

    def __init__(self, cast: Any) -> None:
        self.cast = cast
        self.club = cast.club

    @cached_property
    def mission_and_tiers(self) -> Any:
        return make.mission_with_tiers(self.club)

    @property
    def mission(self) -> Any:
        return self.mission_and_tiers[0]

    @property
    def version(self) -> Any:
        return self.mission_and_tiers[1][0].version

    @property
    def tier_version(self) -> Any:
        return self.mission_and_tiers[1][0]

    @property
    def tier(self) -> Any:
        return self.tier_version.tier

    @cached_property
    def progress(self) -> Any:
        return make.ProgressFactory(team=self.cast.team_a, tier=self.tier)

    @cached_property
    def attempt(self) -> Any:
        assert self.progress
        return make.AttemptFactory(team=self.cast.team_a, tier_version=self.tier_version)

    @cached_property
    def term(self) -> Any:
        return make.TermFactory(club=self.club)

    @cached_property
    def session(self) -> Any:
        return make.SessionFactory(term=self.term)

    @cached_property
    def sign_in(self) -> Any:
        return make.SignInFactory(user=self.cast.coach.user)

    @cached_property
    def course(self) -> Any:
        return make.CourseFactory(team=self.cast.team_a, tier_version=self.tier_version, robot=self.cast.robot_a)

    @cached_property
    def job(self) -> Any:
        return make.JobFactory(club=self.club, team=self.cast.team_a, tier_version=self.tier_version)


@pytest.fixture
def world(cast: Any) -> World:
    return World(cast)


def named_addresses(resolver: URLResolver | None = None, namespace: str = "") -> set[str]:
    """All names of addresses, without the support site's own."""
    found: set[str] = set()
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            if pattern.namespace == "admin":
                continue
            found |= named_addresses(pattern)
        elif isinstance(pattern, URLPattern):
            assert pattern.name, f"an address without a name: {pattern.pattern}"
            found.add(pattern.name)
    return found


def test_every_address_has_a_row() -> None:
    asked = {key.split(":")[0] for key in ROWS}
    assert named_addresses() - asked == set()
    assert asked - named_addresses() == set()


@pytest.mark.parametrize("key", sorted(ROWS))
def test_each_role_gets_what_the_matrix_says(key: str, world: World) -> None:
    row: Row = ROWS[key]
    url = reverse(key.split(":")[0], kwargs=row.kwargs(world))
    got = {}
    for role in ROLES:
        client = world.cast.clients[role]
        extra = {"content_type": row.content_type} if row.content_type else {}
        got[role] = getattr(client, row.method)(url, row.data(world), **extra).status_code
    assert got == row.answers()


def test_the_support_site_is_for_staff_only(world: World) -> None:
    for role in ROLES:
        assert world.cast.clients[role].get("/support/").status_code == 302
