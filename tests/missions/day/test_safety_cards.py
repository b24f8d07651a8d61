"""The cautions' rows: begun in order, checked by name, changed and to be checked again."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError
from classroom.models import SafetyCard
from missions.day.services.safety_cards import (
    DEFAULT_CARDS,
    card_mark,
    cards_mark,
    check_cards,
    edit_card,
    ensure_safety_cards,
)
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
TODAY = dt.date(2026, 11, 18)


@pytest.fixture
def cards(cast):
    return ensure_safety_cards(cast.club)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def test_the_cautions_begin_in_their_order_from_one(cast, cards):
    rows = SafetyCard.objects.filter(club=cast.club).order_by("order").values_list("subject", "text", "order")
    assert list(rows) == [(*words, order) for order, words in enumerate(DEFAULT_CARDS, start=1)]
    assert [card.subject for card in cards][:2] == ["Stop first", "Pinch points"]
    assert ensure_safety_cards(cast.other_coach.club)[0].club == cast.other_coach.club


def test_a_checked_card_says_by_whom_and_on_which_day_and_the_others_stay_unchecked(cast, cards):
    act = lambda: check_cards(cast.assistant, cards[:2], now=NOW, on=TODAY)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == [
        "assistant checked caution (Stop first)",
        "assistant checked caution (Pinch points)",
    ]
    rows = SafetyCard.objects.filter(club=cast.club).order_by("order").values_list("checked_by", "checked_on")
    assert list(rows) == [(cast.assistant.pk, TODAY)] * 2 + [(None, None)] * 8
    assert tells_live_pages(act, cast.club)


def test_new_words_are_to_be_checked_again(cast, cards):
    check_cards(cast.coach, cards[:2], now=NOW, on=TODAY)
    act = lambda: edit_card(cards[0], cast.coach, " Call\0 stop. ", now=NOW)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == ["lead changed caution (Stop first)"]
    first, second = SafetyCard.objects.filter(club=cast.club).order_by("order")[:2]
    assert (first.text, first.checked_by, first.checked_on) == ("Call stop.", None, None)
    assert (second.checked_by, second.checked_on) == (cast.coach, TODAY)
    assert tells_live_pages(act, cast.club)


def test_a_card_has_words_and_a_thousand_characters_at_most(cast, cards):
    assert refused(InputError, lambda: edit_card(cards[0], cast.coach, " \0", now=NOW)) == (
        "empty_card",
        "A caution needs words. Write what to do, then keep it.",
    )
    assert refused(InputError, lambda: edit_card(cards[0], cast.coach, "x" * 1001, now=NOW)) == (
        "long_card",
        "Keep a caution under 1,000 characters: it is read standing up.",
    )
    edit_card(cards[0], cast.coach, "x" * 1000, now=NOW)
    assert SafetyCard.objects.get(pk=cards[0].pk).text == "x" * 1000


def test_nobody_checks_words_that_were_changed_since(cast, cards):
    seen, one = cards_mark(cards), card_mark(cards[1])
    edit_card(cards[0], cast.assistant, "Call stop.", now=NOW)
    assert refused(ConflictError, lambda: check_cards(cast.coach, cards, seen=seen, now=NOW, on=TODAY)) == (
        "changed_meanwhile",
        "Words of these cautions have changed since you read them. Read them again, then check them.",
    )
    check_cards(cast.coach, cards[1:], seen=cards_mark(cards[1:]), now=NOW, on=TODAY)
    edit_card(cards[1], cast.coach, "Mind your fingers.", seen=one, now=NOW)
    edit_card(cards[1], cast.assistant, "Fingers!", now=NOW)
    code, words = refused(ConflictError, lambda: edit_card(cards[1], cast.coach, "Oh.", seen=one, now=NOW))
    assert code == "changed_meanwhile" and words.startswith(f"{cast.assistant} changed this")
