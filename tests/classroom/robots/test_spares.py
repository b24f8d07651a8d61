"""Spares: what lies where, what a robot's service uses up, what to buy."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from classroom.errors import ConflictError, InputError
from classroom.models import ServiceNote, Spare
from classroom.robots.services.keep_robot import finish_service, note_service
from classroom.robots.services.keep_spare import SpareLine, add_spare, change_spare, fill_up, retire_spare, spare_mark
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
LATER = NOW.date() + dt.timedelta(days=7)


@pytest.fixture
def tyre(cast):
    return add_spare(cast.club, cast.coach, SpareLine("Tyre", 5, 4, "Drawer 2"), now=NOW)


def on_hand(spare):
    return Spare.objects.get(pk=spare.pk).on_hand


def use(cast, spare, count, due_on=None):
    return note_service(
        cast.robot_a,
        cast.coach,
        kind="part",
        text="New tyres on",
        due_on=due_on,
        spare=spare,
        spare_count=count,
        now=NOW,
    )


def test_a_service_that_is_done_takes_its_spares_off_the_list(cast, tyre):
    use(cast, tyre, 2)
    assert on_hand(tyre) == 3
    assert Spare.objects.get(pk=tyre.pk).to_buy == 1


def test_a_service_that_is_due_takes_them_once_it_is_done_and_only_once(cast, tyre):
    note = use(cast, tyre, 2, LATER)
    assert on_hand(tyre) == 5
    finish_service(note, cast.coach, now=NOW)
    finish_service(note, cast.assistant, now=NOW)
    assert on_hand(tyre) == 3


def test_more_than_the_list_has_is_refused_and_nothing_is_noted(cast, tyre):
    with pytest.raises(ConflictError) as refused:
        use(cast, tyre, 6)
    assert refused.value.code == "too_few_spares"
    assert "the list has 5 and this takes 6" in refused.value.message
    assert not ServiceNote.objects.exists() and on_hand(tyre) == 5


def test_a_due_service_that_takes_more_than_there_are_stays_due(cast, tyre):
    note = use(cast, tyre, 6, LATER)
    with pytest.raises(ConflictError):
        finish_service(note, cast.coach, now=NOW)
    note.refresh_from_db()
    assert note.done_on is None and on_hand(tyre) == 5


def test_a_spare_of_another_club_is_never_used(cast, tyre):
    other = add_spare(cast.other_coach.club, cast.other_coach, SpareLine("Tyre", 5, 0), now=NOW)
    with pytest.raises(InputError):
        use(cast, other, 1)
    page = cast.as_coach.post(
        reverse("robot_note", args=[cast.robot_a.pk]),
        {"kind": "part", "text": "On", "spare": other.pk, "spare_count": 1},
    )
    assert page.status_code == 422 and on_hand(other) == 5


def test_what_came_in_is_added_to_what_lies_there(cast, tyre):
    stale = Spare.objects.get(pk=tyre.pk)
    fill_up(tyre, cast.coach, 3, now=NOW)
    fill_up(stale, cast.assistant, 2, now=NOW)
    assert on_hand(tyre) == 10


@pytest.mark.parametrize("count", ["0", "-3", "", "1.5", "1e9", "99999999999999999999", "many"])
def test_what_is_no_number_of_parts_is_refused_in_words(cast, tyre, count):
    answer = cast.as_coach.post(reverse("spare_came_in", args=[tyre.pk]), {"count": count}, follow=True)
    assert "Type how many came in" in page_of(answer)
    assert on_hand(tyre) == 5


def test_a_line_is_put_on_the_list_with_its_place(cast):
    typed = {"name": "  Drive   belt ", "on_hand": "0", "least": "2", "place": "Drawer 3"}
    assert cast.as_assistant.post(reverse("spares"), typed).status_code == 302
    belt = Spare.objects.get()
    assert (belt.name, belt.on_hand, belt.least, belt.place, belt.club) == ("Drive belt", 0, 2, "Drawer 3", cast.club)


def test_one_part_has_one_line_and_what_was_typed_stays(cast, tyre):
    page = cast.as_coach.post(reverse("spares"), {"name": "Tyre", "on_hand": "9", "least": "1"})
    assert page.status_code == 422 and "on the list already" in page_of(page)
    assert 'value="9"' in page_of(page)
    assert Spare.objects.count() == 1


def test_who_counts_while_a_service_uses_some_is_told_and_writes_over_nothing(cast, tyre):
    seen = spare_mark(tyre)
    use(cast, tyre, 2)
    url, typed = reverse("spare", args=[tyre.pk]), {"name": "Tyre", "on_hand": "5", "least": "6", "place": "Drawer 2"}
    answer = cast.as_coach.post(url, typed | {"seen": seen})
    assert answer.status_code == 409 and on_hand(tyre) == 3
    assert [(row.what, row.mine, row.theirs) for row in answer.context["clash"].differences] == [
        ("On hand", "5", "3"),
        ("Least to keep", "6", "4"),
    ]
    assert cast.as_coach.post(url, typed | {"over": answer.context["clash"].over}).status_code == 302
    assert on_hand(tyre) == 5


def test_off_the_list_its_name_is_free_and_the_notes_stay(cast, tyre):
    use(cast, tyre, 1)
    retire_spare(tyre, cast.coach, now=NOW)
    again = add_spare(cast.club, cast.coach, SpareLine("Tyre", 1, 0), now=NOW)
    assert list(Spare.objects.kept()) == [again]
    assert ServiceNote.objects.get().spare == tyre
    assert "1 × Tyre" in page_of(cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk])))


def test_a_part_that_a_due_note_takes_stays_on_the_list(cast, tyre):
    use(cast, tyre, 1, LATER)
    with pytest.raises(ConflictError) as refused:
        retire_spare(tyre, cast.coach, now=NOW)
    assert refused.value.code == "still_wanted"


def test_fewer_than_the_least_are_to_buy_on_the_pages_where_one_looks(cast, tyre):
    enough = page_of(cast.as_coach.get(reverse("robots")))
    assert "Spares to buy" not in enough
    change_spare(tyre, cast.coach, SpareLine("Tyre", 1, 4, "Drawer 2"), now=NOW)
    assert "Tyre (3)" in page_of(cast.as_observer.get(reverse("robots")))
    page = cast.as_observer.get(reverse("spares"))
    assert [spare.to_buy for spare in page.context["to_buy"]] == [3]


def test_an_observer_sees_the_list_and_no_button(cast, tyre):
    page = page_of(cast.as_observer.get(reverse("spares")))
    assert "Tyre" in page and "Drawer 2" in page
    assert reverse("spare_came_in", args=[tyre.pk]) not in page and reverse("spare", args=[tyre.pk]) not in page


def test_another_clubs_list_is_not_seen(cast, tyre):
    assert "Drawer 2" not in page_of(cast.as_other_coach.get(reverse("spares")))


def test_a_club_without_spares_is_asked_for_none_in_a_note(cast):
    page = cast.as_coach.get(reverse("robot", args=[cast.robot_a.pk]))
    assert "spare" not in page.context["note_form"].fields


def test_a_note_that_takes_too_many_says_so_beside_the_number_and_keeps_what_was_typed(cast, tyre):
    typed = {"kind": "part", "text": "Both wheels", "spare": tyre.pk, "spare_count": "7"}
    page = cast.as_coach.post(reverse("robot_note", args=[cast.robot_a.pk]), typed)
    assert page.status_code == 422
    assert "the list has 5 and this takes 7" in page_of(page) and 'value="Both wheels"' in page_of(page)


def test_the_database_knows_that_a_note_counts_its_spares(cast, tyre):
    for spare, count in ((tyre, 0), (None, 2)):
        with pytest.raises(IntegrityError), transaction.atomic():
            ServiceNote.objects.create(
                robot=cast.robot_a, kind="part", text="On", on=NOW.date(), spare=spare, spare_count=count
            )


def test_the_list_costs_the_same_queries_however_long(cast, tyre, django_assert_max_num_queries):
    for number in range(30):
        spare = add_spare(cast.club, cast.coach, SpareLine(f"Part {number}", 5, 9), now=NOW)
        use(cast, spare, 1)
    with django_assert_max_num_queries(6):
        cast.as_coach.get(reverse("spares"))


def test_the_log_names_the_spare(cast, tyre):
    assert "Added spare: Tyre" in page_of(cast.as_coach.get(reverse("audit_log")))


def test_a_spare_that_was_taken_off_the_list_meanwhile_is_not_noted(cast, tyre):
    shown = Spare.objects.get(pk=tyre.pk)
    retire_spare(tyre, cast.coach, now=NOW)
    with pytest.raises(ConflictError) as refused:
        use(cast, shown, 2, due_on=LATER)
    assert refused.value.code == "spare_gone" and not ServiceNote.objects.exists()
