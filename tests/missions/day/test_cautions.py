"""The cautions of a session: begun with our words, then the club's own, each with who has checked it and when."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from classroom.errors import InputError
from classroom.models import AuditEntry, SafetyCard
from missions.day.services.safety_cards import DEFAULT_CARDS, cards_mark, check_cards, edit_card, ensure_safety_cards
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW


@pytest.fixture
def day(cast):
    cast.session = make.SessionFactory(term=make.TermFactory(club=cast.club), starts_at=NOW)
    return cast


def test_the_cautions_begin_with_ours_and_a_coachs_words_stay(day):
    cards = ensure_safety_cards(day.club)
    assert len(cards) >= 9
    edit_card(cards[0], day.coach, "Shout stop and hands up.", now=NOW)
    again = ensure_safety_cards(day.club)
    assert [card.pk for card in again] == [card.pk for card in cards]
    assert again[0].text == "Shout stop and hands up."


def test_the_cautions_name_no_numbers_of_ours_and_put_others_rules_first(day, at_ten_past):
    assert not [char for subject, text in DEFAULT_CARDS for char in subject + text if char.isdigit()]
    page = page_of(day.as_coach.get(reverse("session", args=[day.session.pk])))
    assert "The venue's rules, your local rules and the kit maker's instructions come first." in page


def test_a_checked_caution_says_by_whom_and_when_until_its_words_change(day):
    card = ensure_safety_cards(day.club)[0]
    check_cards(day.coach, [card], now=NOW, on=NOW.date())
    card.refresh_from_db()
    assert (card.checked_by, card.checked_on) == (day.coach, NOW.date())
    assert AuditEntry.objects.filter(verb="checked caution").exists()
    edit_card(card, day.coach, "Other words.", now=NOW)
    card.refresh_from_db()
    assert card.checked_on is None


def test_all_cautions_are_checked_with_one_tap(day, at_ten_past):
    card = ensure_safety_cards(day.club)[0]
    day.as_coach.post(
        reverse("safety_card", args=[card.pk]),
        {"do": "all", "back": day.session.pk, "read": cards_mark(day.club.safety_cards.all())},
    )
    assert not SafetyCard.objects.filter(club=day.club, checked_on=None).exists()
    page = day.as_coach.get(reverse("session", args=[day.session.pk]))
    assert page.context["unchecked"] == 0


def test_a_caution_that_was_checked_weeks_ago_is_not_green_today(day, at_ten_past):
    """The tally said “0 of 10” beside cards with a green tick."""
    cards = ensure_safety_cards(day.club)
    day.club.safety_cards.update(checked_on=NOW.date() - dt.timedelta(days=21), checked_by=day.coach)
    check_cards(day.coach, cards[:1], now=NOW, on=NOW.date())
    page = day.as_coach.get(reverse("session", args=[day.session.pk]))
    assert page.context["checked"] == 1
    cautions = page_of(page).split('id="cautions"')[1]
    assert (cautions.count("chip passed"), cautions.count("chip help")) == (1, len(cards) - 1)
    assert cautions.count("last on") == len(cards) - 1
    url = reverse("safety_card", args=[cards[1].pk])
    answer = day.as_coach.post(
        url, {"do": "check", "back": day.session.pk, "read": cards_mark([cards[1]])}, headers={"HX-Request": "true"}
    )
    assert page_of(answer).count("chip passed") == 2


def test_a_caution_cannot_lose_its_words(day):
    card = ensure_safety_cards(day.club)[0]
    with pytest.raises(InputError):
        edit_card(card, day.coach, "  ", now=NOW)


@pytest.mark.parametrize("do", ["check", "all"])
def test_nobody_stands_for_words_that_were_changed_after_reading(day, at_ten_past, do):
    """Found by audit: on an open page one tap checked a caution that another coach had rewritten meanwhile."""
    card = ensure_safety_cards(day.club)[0]
    url, page = reverse("safety_card", args=[card.pk]), day.as_coach.get(reverse("session", args=[day.session.pk]))
    read = page.context["read"] if do == "all" else next(c.read for c in page.context["cards"] if c.pk == card.pk)
    edit_card(card, day.assistant, "Call stop. Hands up.", now=NOW)
    answer = day.as_coach.post(url, {"do": do, "read": read}, headers={"HX-Request": "true"})
    assert "changed since you read them" in page_of(answer)
    assert not SafetyCard.objects.exclude(checked_on=None).exists()
    again = answer.context["read"] if do == "all" else next(c.read for c in answer.context["cards"] if c.pk == card.pk)
    day.as_coach.post(url, {"do": do, "read": again}, headers={"HX-Request": "true"})
    card.refresh_from_db()
    assert card.checked_by == day.coach
