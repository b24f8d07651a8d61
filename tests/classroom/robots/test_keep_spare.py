"""The list of spares: exact caps, names, and whose line is whose."""

from __future__ import annotations

import pytest

from classroom.errors import ConflictError, InputError
from classroom.models import ServiceNote, Spare
from classroom.robots.services.keep_spare import (
    SpareLine,
    add_spare,
    change_spare,
    fill_up,
    retire_spare,
    spare_mark,
    use_spares,
)
from tests import factories as make

NOW = make.NOW


@pytest.fixture
def tyre(cast):
    return add_spare(cast.club, cast.coach, SpareLine("Tyre", 5, 4, "Drawer 2"), now=NOW)


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    return raised.value.code, raised.value.message


def row(spare):
    return Spare.objects.values_list("name", "on_hand", "least", "place", "retired_at").get(pk=spare.pk)


def test_a_line_is_kept_as_typed_in_its_club(cast, tyre):
    assert row(tyre) == ("Tyre", 5, 4, "Drawer 2", None) and tyre.club == cast.club
    change_spare(tyre, cast.coach, SpareLine("Wide tyre", 6, 3), now=NOW)
    assert row(tyre) == ("Wide tyre", 6, 3, "", None)


@pytest.mark.parametrize(
    ("there", "came_in", "then"),
    [(0, 1, 1), (5, 3, 8), (0, 10_000, 10_000), (9_999, 1, 10_000), (1, 9_999, 10_000)],
)
def test_what_came_in_is_added_up_to_ten_thousand(cast, tyre, there, came_in, then):
    Spare.objects.update(on_hand=there)
    assert fill_up(tyre, cast.coach, came_in, now=NOW).on_hand == then == Spare.objects.get().on_hand


@pytest.mark.parametrize(("there", "came_in"), [(5, 0), (5, -1), (0, 10_001), (1, 10_000), (10_000, 1), (9_999, 2)])
def test_more_than_ten_thousand_or_none_are_refused(cast, tyre, there, came_in):
    Spare.objects.update(on_hand=there)
    assert refused(InputError, lambda: fill_up(tyre, cast.coach, came_in, now=NOW)) == (
        "how_many",
        "Type how many came in, from 1 to at most 10,000 in all.",
    )
    assert Spare.objects.get().on_hand == there


@pytest.mark.parametrize("line", [SpareLine("Tyre", 6, 4, "Drawer 2"), SpareLine("Tyre", 5, 3, "Drawer 2")])
def test_a_mark_is_of_all_that_the_line_shows(cast, tyre, line):
    seen = spare_mark(tyre)
    assert spare_mark(change_spare(tyre, cast.coach, line, now=NOW)) != seen
    assert spare_mark(change_spare(tyre, cast.coach, SpareLine("Tyre", 5, 4, "Shelf"), now=NOW)) != seen
    assert spare_mark(change_spare(tyre, cast.coach, SpareLine("Belt", 5, 4, "Drawer 2"), now=NOW)) != seen
    assert spare_mark(change_spare(tyre, cast.coach, SpareLine("Tyre", 5, 4, "Drawer 2"), now=NOW)) == seen


def test_the_name_of_another_line_is_taken(cast, tyre):
    words = "name_taken", "Tyre is on the list already; change that line."
    assert refused(ConflictError, lambda: add_spare(cast.club, cast.coach, SpareLine("Tyre", 1, 1), now=NOW)) == words
    belt = add_spare(cast.club, cast.coach, SpareLine("Belt", 1, 1), now=NOW)
    assert refused(ConflictError, lambda: change_spare(belt, cast.coach, SpareLine("Tyre", 1, 1), now=NOW)) == words
    add_spare(cast.other_coach.club, cast.other_coach, SpareLine("Tyre", 1, 1), now=NOW)


@pytest.mark.parametrize("act", ["changed", "filled up"])
def test_the_slower_of_two_hears_who_counted_or_filled_up(cast, tyre, act):
    seen = spare_mark(tyre)
    if act == "changed":
        change_spare(tyre, cast.assistant, SpareLine("Tyre", 4, 4, "Drawer 2"), now=NOW)
    else:
        fill_up(tyre, cast.assistant, 2, now=NOW)
    code, words = refused(
        ConflictError, lambda: change_spare(tyre, cast.coach, SpareLine("Tyre", 9, 4), seen=seen, now=NOW)
    )
    assert code == "changed_meanwhile" and words.startswith(f"{cast.assistant} changed this")


def a_note(cast, spare, count, done_on=None):
    return ServiceNote.objects.create(
        robot=cast.robot_a, kind="part", text="On", on=NOW.date(), spare=spare, spare_count=count, done_on=done_on
    )


def test_a_line_leaves_the_list_unless_a_note_that_waits_takes_of_it(cast, tyre):
    waiting = a_note(cast, tyre, 1)
    assert refused(ConflictError, lambda: retire_spare(tyre, cast.coach, now=NOW)) == (
        "still_wanted",
        "A service note that is not done takes Tyre. Finish that note first.",
    )
    assert row(tyre)[4] is None
    ServiceNote.objects.filter(pk=waiting.pk).update(done_on=NOW.date())
    retire_spare(tyre, cast.coach, now=NOW)
    assert row(tyre)[4] == NOW


@pytest.mark.parametrize(("takes", "left"), [(1, 4), (4, 1), (5, 0)])
def test_a_service_may_take_the_last_one(cast, tyre, takes, left):
    belt = add_spare(cast.club, cast.coach, SpareLine("Belt", 3, 1), now=NOW)
    use_spares(a_note(cast, tyre, takes))
    assert (row(tyre)[1], row(belt)[1]) == (left, 3)


def test_a_service_that_takes_more_than_the_list_has_says_both_numbers(cast, tyre):
    add_spare(cast.club, cast.coach, SpareLine("Belt", 3, 1), now=NOW)
    assert refused(ConflictError, lambda: use_spares(a_note(cast, tyre, 6))) == (
        "too_few_spares",
        "Tyre: the list has 5 and this takes 6. Count what lies there on the Spares page, then note it again.",
    )


def test_a_note_that_takes_nothing_takes_nothing(cast, tyre):
    use_spares(a_note(cast, None, 0))
    assert row(tyre)[1] == 5
