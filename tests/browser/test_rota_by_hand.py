"""A coach's hand in the rota, by presses: a turn moved, a place given to another team, kept free, given back."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from missions.day.services.plan_rota import solve_rota
from missions.models import RotaTurn
from tests.browser.day_world import an_afternoon


@pytest.fixture
def planned(site):
    site.world = an_afternoon(site)
    solve_rota(site.world.session, now=site.world.session.starts_at)
    return site


def turns_ahead(session):
    """Those of the last two slots, which are still to come."""
    last = max(RotaTurn.objects.filter(session=session).values_list("slot", flat=True))
    return last, list(
        RotaTurn.objects.filter(session=session, slot__gte=last - 1, team__isnull=False).order_by("slot", "table")
    )


def the_place_of(page, session, slot, table):
    page.goto(f"{reverse('rota', args=[session.pk])}?slot={slot}&table={table.pk}")
    return page.locator("main")


def test_a_turn_is_moved_to_another_slot_and_who_stood_there_takes_its_place(planned, open_page):
    session = planned.world.session
    last, turns = turns_ahead(session)
    turn = next(turn for turn in turns if turn.slot == last - 1)
    there = RotaTurn.objects.filter(session=session, slot=last, table=turn.table).first()
    team, other = turn.team, there.team if there else None
    page = open_page(planned.as_coach)
    main = the_place_of(page, session, turn.slot, turn.table)
    page.get_by_label("to", exact=True).select_option(str(last))
    main.get_by_role("button", name="Move", exact=True).click()
    expect(page.get_by_text("Moved. It stays there when you plan again.")).to_be_visible()
    assert RotaTurn.objects.get(session=session, slot=last, table=turn.table).team == team
    if other:
        assert RotaTurn.objects.get(session=session, slot=last - 1, table=turn.table).team == other


def test_a_place_is_kept_free_and_given_back_to_the_planner(planned, open_page):
    session = planned.world.session
    _last, turns = turns_ahead(session)
    turn = turns[0]
    page = open_page(planned.as_coach)
    main = the_place_of(page, session, turn.slot, turn.table)
    main.get_by_role("button", name="Keep this place free").click()
    expect(page.get_by_text("This place stays free.")).to_be_visible()
    kept = RotaTurn.objects.get(session=session, slot=turn.slot, table=turn.table)
    assert kept.by_hand and kept.team is None
    main = the_place_of(page, session, turn.slot, turn.table)
    main.get_by_role("button", name="Give back to the planner").click()
    expect(page.get_by_text("The planner may use this place again.")).to_be_visible()
    assert not RotaTurn.objects.filter(session=session, slot=turn.slot, table=turn.table, by_hand=True).exists()


def test_another_team_is_put_in_a_place(planned, open_page):
    session = planned.world.session
    _last, turns = turns_ahead(session)
    turn = turns[0]
    page = open_page(planned.as_coach)
    main = the_place_of(page, session, turn.slot, turn.table)
    choice = page.get_by_label("Team at this place")
    other = next(
        value
        for value in choice.locator("option").evaluate_all("all => all.map(one => one.value)")
        if value != str(turn.team_id)
    )
    choice.select_option(other)
    main.get_by_role("button", name="Put here").click()
    expect(page.get_by_text("stay there when you plan again")).to_be_visible()
    now = RotaTurn.objects.get(session=session, slot=turn.slot, table=turn.table)
    assert str(now.team_id) == other and now.by_hand
