"""The cautions of a club: begun with our words, then its own, each with who checked it and when."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.club.services.audit import note_in_audit
from classroom.errors import ConflictError, InputError
from classroom.models import Club, Coach, SafetyCard
from classroom.site.clash.mark import CHANGED, mark_of, refuse_changed
from missions.errors import MissionsCode

#: Words to begin with, in the language of the coach who begins. No numbers of ours: how many adults, what first aid, how long to charge is said by others.
DEFAULT_CARDS: tuple[tuple[Any, Any], ...] = (
    (
        gettext_lazy("Stop first"),
        gettext_lazy(
            "Anyone may call “stop”, and then every robot is stopped. Know where each robot's stop and switch are before the "
            "first run."
        ),
    ),
    (
        gettext_lazy("Pinch points"),
        gettext_lazy("Gears, wheels and arms catch fingers. Stop the robot and switch it off before you touch them."),
    ),
    (
        gettext_lazy("Batteries"),
        gettext_lazy(
            "An adult charges, with the maker's charger, in view and away from ways out. Stop at heat, swelling, a leak or a "
            "smell, keep children away, and do what the maker's instructions say."
        ),
    ),
    (
        gettext_lazy("Falling robots"),
        gettext_lazy(
            "Run on the floor or on a table with a raised edge. Let a falling robot fall: nobody dives after it."
        ),
    ),
    (
        gettext_lazy("Small parts"),
        gettext_lazy(
            "Count loose parts into a tray, keep them out of mouths and away from little brothers and sisters, and look under the "
            "tables before you leave."
        ),
    ),
    (
        gettext_lazy("Ways and cables"),
        gettext_lazy("Bags under the benches, cables along the wall, ways out clear. Walk between tables."),
    ),
    (
        gettext_lazy("Hair, sleeves, lanyards"),
        gettext_lazy("Tie back what hangs down and take off lanyards near turning parts."),
    ),
    (
        gettext_lazy("Eyes"),
        gettext_lazy(
            "Where anything can fly off, stretch or snap, everybody near wears eye protection, or the run does not happen."
        ),
    ),
    (
        gettext_lazy("Tools"),
        gettext_lazy("Cutting, drilling, soldering and hot glue only with an adult who knows the tool, standing by."),
    ),
    (
        gettext_lazy("Hands and first aid"),
        gettext_lazy(
            "Wash hands before food. Know who gives first aid here and where the kit is. Write no child's injury into this "
            "program: use the venue's own record."
        ),
    ),
)


@transaction.atomic
def ensure_safety_cards(club: Club) -> list[SafetyCard]:
    """The club's cards; begun with the default ones when it has none. Cards that a coach has changed stay."""
    cards = list(club.safety_cards.all())
    if not cards:
        SafetyCard.objects.bulk_create(
            [
                SafetyCard(club=club, subject=str(subject), text=str(text), order=order)
                for order, (subject, text) in enumerate(DEFAULT_CARDS, start=1)
            ],
            ignore_conflicts=True,
        )
        cards = list(club.safety_cards.all())
    return cards


def cards_mark(cards: Iterable[SafetyCard]) -> str:
    """Of all the words on these cards, as a coach was shown them."""
    return mark_of(*((card.pk, card.text) for card in cards))


@transaction.atomic
def check_cards(
    coach: Coach, cards: list[SafetyCard], *, seen: str | None = None, now: dt.datetime, on: dt.date
) -> None:
    """A coach has looked at these cautions in the room and stands for them: for the words that they have read.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``: another coach has changed words of these.
    """
    keys = [card.pk for card in cards]
    cards = list(SafetyCard.objects.select_for_update().filter(pk__in=keys))
    if seen is not None and seen != cards_mark(cards):
        words = _("Words of these cautions have changed since you read them. Read them again, then check them.")
        raise ConflictError(CHANGED, words)
    for card in cards:
        card.checked_by, card.checked_on = coach, on
        card.save(update_fields=["checked_by", "checked_on"])
        note_in_audit(coach.club, coach, "checked caution", card.subject, now=now)
    coach.club.touch()


def card_mark(card: SafetyCard) -> str:
    return mark_of(card.text)


@transaction.atomic
def edit_card(card: SafetyCard, coach: Coach, text: str, *, seen: str | None = None, now: dt.datetime) -> None:
    """New words for a caution. It has to be checked again.

    Raises
    ------
    InputError
        ``empty_card``, ``long_card``.
    ConflictError
        ``changed_meanwhile``.
    """
    card = SafetyCard.objects.select_for_update().get(pk=card.pk)
    refuse_changed(seen, card_mark(card), coach.club, card.subject, ("changed caution",))
    text = text.replace("\0", "").strip()
    if not text:
        raise InputError(MissionsCode.EMPTY_CARD, _("A caution needs words. Write what to do, then keep it."))
    if len(text) > 1000:
        raise InputError(MissionsCode.LONG_CARD, _("Keep a caution under 1,000 characters: it is read standing up."))
    card.text, card.checked_by, card.checked_on = text, None, None
    card.save(update_fields=["text", "checked_by", "checked_on"])
    note_in_audit(coach.club, coach, "changed caution", card.subject, now=now)
    coach.club.touch()
