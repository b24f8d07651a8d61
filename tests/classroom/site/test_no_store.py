"""No page that shows a child is kept by a browser, none has a child in its address, and no log names one.

OWASP ASVS 5.0.0, 14.3.2 (no-store on pages with personal data) and 14.2.1 (nothing personal in an address), 16.2.5
(nothing personal in logs); ids from memory. Found by going through the whole access matrix, not by a list of pages.
"""

from __future__ import annotations

import datetime as dt
import logging
import re

import pytest
import time_machine
from django.urls import reverse

from missions.models import RotaTurn
from tests import factories as make
from tests.access import all_rows
from tests.pages import page_of
from tests.test_access import World

CHILDREN = ("Turnstone", "Phalarope")
NOW = make.NOW


@pytest.fixture
def world(cast):
    for member, name in zip((cast.member_a, cast.member_b), CHILDREN, strict=True):
        member.nickname = name
        member.save()
    return World(cast)


def test_no_page_with_a_child_is_stored_and_none_has_it_in_an_address(world, caplog):
    caplog.set_level(logging.INFO)
    with time_machine.travel(NOW, tick=False):
        session = make.SessionFactory(term=world.term, starts_at=NOW, ends_at=NOW + dt.timedelta(minutes=90))
        RotaTurn.objects.create(
            session=session, slot=0, table=make.TableFactory(club=world.club), team=world.cast.team_a, tier=world.tier
        )
        assert world.progress and world.attempt
        showing, stored, addressed = set(), {}, []
        for key, row in sorted(all_rows().items()):
            if row.method != "get" or key.startswith(("account_", "mfa_")):
                continue
            url = reverse(key.split(":")[0], kwargs=row.kwargs(world))
            for role in ("coach", "team_a", "guardian_a"):
                answer = world.cast.clients[role].get(url, row.data(world))
                if answer.status_code != 200 or answer.streaming:
                    continue
                page = page_of(answer)
                addressed += [
                    f"{role} {key}: {address}"
                    for address in re.findall(r'(?:href|action|src|hx-get|hx-post)="([^"]*)"', page)
                    if any(child in address for child in CHILDREN)
                ]
                if any(child in page for child in CHILDREN):
                    showing.add((role, key))
                    if "no-store" not in answer.get("Cache-Control", ""):
                        stored[role, key] = answer.get("Cache-Control", "")
    assert stored == {} and addressed == []
    assert {("coach", "families"), ("coach", "team"), ("coach", "today"), ("team_a", "team_mission"), ("guardian_a", "family")} <= showing  # fmt: skip
    assert not any(child in caplog.text for child in CHILDREN)
