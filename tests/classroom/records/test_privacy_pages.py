"""The club's paperwork says what the program does: GDPR art. 12 to 14 (told in plain words), 35(7) (what an assessment
holds), 16 CFR 312.4 (notice), Children's Code standard 4 (transparency). All from memory."""

from __future__ import annotations

import re
from html import unescape

import pytest

from classroom.records.kept import KEPT
from tests.pages import page_of

PAGES = ("/privacy/", "/privacy/children/", "/privacy/impact/")


def test_every_record_of_the_program_is_told_with_why_who_and_how_long(cast):
    cast.club.retention_days = 123
    cast.club.save()
    page = re.sub(r"\s+", " ", unescape(page_of(cast.as_coach.get("/privacy/"))))
    for kept in KEPT.values():
        assert f"<strong>{kept.what}.</strong> {kept.why}" in page
        assert f"Seen by: {kept.seen_by} How long: {kept.until.format(days=123)}" in page


@pytest.mark.parametrize("who", ["team_a", "guardian_a", "observer"])
def test_whoever_is_in_the_club_may_read_it_and_no_address_of_a_coach_reaches_them(cast, who):
    for path in PAGES[:2]:
        page = page_of(cast.clients[who].get(path))
        assert "Wren" in page
        assert who == "observer" or cast.coach.user.email not in page


def test_the_childrens_page_is_short_and_in_plain_words(cast):
    """A screen: about 150 words; no long sentence (plain language, common practice)."""
    text = re.sub(
        r"<[^>]+>", " ", page_of(cast.as_team_a.get("/privacy/children/")).split("<main")[1].split("</main")[0]
    )
    assert len(text.split()) < 200
    assert max(len(sentence.split()) for sentence in re.split(r"[.?!]", text)) < 32


def test_the_assessment_has_the_four_parts_of_article_35_7_and_room_to_sign(cast):
    page = page_of(cast.as_coach.get("/privacy/impact/"))
    for part in ("1. What is done", "2. Why this much", "3. What could go wrong", "4. Decision", "signature"):
        assert part in page
    assert "no legal" in page and page.count('class="to-fill"') >= 6


def test_no_child_is_named_on_any_of_them(cast):
    for path in PAGES:
        assert "Robin" not in page_of(cast.as_coach.get(path))


def test_consent_points_to_the_notice_and_the_familys_page_to_it_too(cast):
    assert 'href="/privacy/"' in page_of(cast.as_guardian_a.get("/family/"))
    assert 'href="/privacy/"' in page_of(cast.as_coach.get("/settings/"))
