"""No page of a coach leads to one that refuses them. Found by audit: Settings led assistants to the club's bar."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from classroom.robots.services.calibrate import record_calibration
from classroom.robots.services.keep_spare import SpareLine, add_spare
from classroom.site.navigation import SECTIONS
from missions.day.services.keep_table import add_table
from tests import factories as make
from tests.pages import page_of

LINK = re.compile(r'<a [^>]*href="(/[^"#]*)')


def followed(client, paths, deep):
    """Every address that these pages lead to, and what it answers, ``deep`` pages on."""
    answers: dict[str, int] = {}
    ahead = list(paths)
    for _ in range(deep):
        found = []
        for path in ahead:
            if path not in answers:
                page = client.get(path)
                answers[path] = page.status_code
                if page.headers["Content-Type"].startswith("text/html"):
                    found += LINK.findall(page_of(page).replace("&amp;", "&"))
        ahead = found
    return answers


@pytest.mark.parametrize("role", ["observer", "assistant", "coach"])
def test_no_page_leads_to_one_that_refuses(cast, role):
    make.mission_with_tiers(cast.club)
    make.SessionFactory(term=make.TermFactory(club=cast.club))
    runs = [{"commanded_mm": 600, "measured_mm": m} for m in (588, 590)]
    record_calibration(cast.robot_a, "straight", "table", runs, now=make.NOW)
    add_table(cast.club, cast.coach, "Table A", 2400, 1200, now=make.NOW)
    add_spare(cast.club, cast.coach, SpareLine("Tyre", 1, 4), now=make.NOW)
    answers = followed(cast.clients[role], [reverse(name) for name, _ in SECTIONS], 3)
    assert len(answers) > 20
    assert {path: status for path, status in answers.items() if status >= 400} == {}
