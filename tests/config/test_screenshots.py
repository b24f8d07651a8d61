"""The contact sheets show every page there is."""

from __future__ import annotations

from docs.page_states import NOT_DRAWN, STATES, nothing
from docs.screenshots import LEFT_OUT, OF_AN_EMPTY_CLUB, PAGES
from tests.access import all_rows

ASKED_FOR = {key.split(":")[0] for key, row in all_rows().items() if row.method == "get"}


def test_every_address_that_is_asked_for_is_drawn_or_left_out_with_a_reason():
    assert set(PAGES) & set(LEFT_OUT) == set()
    assert ASKED_FOR - set(PAGES) - set(LEFT_OUT) == set()
    assert (set(PAGES) | set(LEFT_OUT)) - ASKED_FOR == set()
    assert all(LEFT_OUT.values())


def test_an_empty_clubs_pages_are_pages_that_need_nothing_but_a_club():
    assert {name for name in OF_AN_EMPTY_CLUB if PAGES[name].kwargs or PAGES[name].who != "coach"} == set()


def test_a_page_that_another_one_links_to_is_seen_by_the_same_people():
    linked = {name: page for name, page in PAGES.items() if page.linked_from}
    assert linked and {name for name, page in linked.items() if PAGES[page.linked_from].who != page.who} == set()


def test_every_state_is_one_of_a_page_and_what_is_not_drawn_says_why():
    assert {state.page for state in STATES.values()} - set(PAGES) == set()
    assert set(STATES) & (set(PAGES) | set(NOT_DRAWN) | {f"{name}-empty" for name in OF_AN_EMPTY_CLUB}) == set()
    assert all(NOT_DRAWN.values())


def test_every_kind_of_state_is_drawn():
    """Something is done or changed for each kind; a sheet without either shows what the one before it left."""
    kinds = (
        "refused",
        "not-there",
        "database-away",
        "job-stopped",
        "job-failed",
        "all-passed",
        "crowded",
        "long-names",
    )
    for kind in (*kinds, "right-to-left", "german"):
        of_kind = [state for name, state in STATES.items() if kind in name]
        assert of_kind and any((state.does, state.changes) != (nothing, nothing) for state in of_kind), kind
