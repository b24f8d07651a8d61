from __future__ import annotations

import pytest
from django.urls import reverse

from classroom.models import SafetyCard
from missions.ladder.pages.chart import tier_chart
from missions.ladder.pages.missions import list_missions
from tests import factories as make
from tests.pages import page_of


@pytest.fixture
def gate(cast):
    mission, cast.editions = make.mission_with_tiers(cast.club)
    return mission


def read(client, url, **query):
    return page_of(client.get(url, query))


def test_a_mission_is_shown_with_its_map_words_and_cautions(cast, gate):
    version = cast.editions[0].version
    version.did_you_know = "A gate can open by itself."
    version.questions = ["Which leg worries you most?"]
    version.setup_steps = ["Tape the base down."]
    version.safety_notes = "Fingers away from the hinge."
    version.save()
    SafetyCard.objects.create(club=cast.club, subject="Trips", text="Cables under the table.")
    page = read(cast.as_coach, reverse("mission", args=[gate.pk]))
    for words in (
        "<strong>Shut the gate.</strong>",
        "A gate can open by itself.",
        "Which leg worries you most?",
        "Tape the base down.",
        "Fingers away from the hinge.",
        "Cables under the table.",
        "Your venue’s own rules",
        'class="chart"',
        "Left the base by itself",
        "from the left edge",
    ):
        assert words in page


def test_each_tier_says_what_is_new_on_it(cast, gate):
    url = reverse("mission", args=[gate.pk])
    assert "New on this tier" not in read(cast.as_coach, url)
    assert "gravel bank in the way" in read(cast.as_coach, url, tier=cast.editions[1].tier_id)
    assert "a time limit of 75 s" in read(cast.as_coach, url, tier=cast.editions[2].tier_id)


@pytest.mark.parametrize("tier", ["0", "-3", "x", "9" * 40, "²"])
def test_an_unknown_tier_shows_the_first(cast, gate, tier):
    response = cast.as_coach.get(reverse("mission", args=[gate.pk]), {"tier": tier})
    assert response.status_code == 200
    assert "New on this tier" not in page_of(response)


def test_a_brief_cannot_bring_its_own_markup(cast, gate):
    version = cast.editions[0].version
    version.brief = "<script>alert(1)</script> [x](javascript:alert(1)) <img src=x onerror=alert(1)> **bold**"
    version.save()
    page = read(cast.as_coach, reverse("mission", args=[gate.pk]))
    brief = page[page.index('id="brief-title"') : page.index('id="setup-title"')]
    assert "<strong>bold</strong>" in brief
    for bad in ("<script", "<img", "href="):
        assert bad not in brief


def test_every_team_has_a_link_to_ask_for_a_course(cast, gate):
    page = read(cast.as_coach, reverse("mission", args=[gate.pk]))
    assert reverse("course_ask", args=[cast.team_a.pk, cast.editions[0].tier_id]) in page


def test_the_list_says_how_many_teams_are_where_and_ranks_nobody(cast, gate):
    make.ProgressFactory(team=cast.team_a, tier=cast.editions[0].tier, state="passed")
    make.ProgressFactory(team=cast.team_b, tier=cast.editions[0].tier)
    lines, _ = list_missions(cast.club)
    plain = lines[0].tiers[0]
    assert (plain.name, plain.working, plain.passed) == ("Plain route", 1, 1)
    page = read(cast.as_coach, reverse("missions"))
    assert "1 working, 1 passed" in page and "Curlew" not in page


def test_drafts_and_what_was_taken_away_are_told_apart(cast, gate):
    draft = make.MissionFactory(club=cast.club, title="Fog bell")
    make.MissionVersionFactory(mission=draft, published_at=None)
    make.MissionFactory(club=cast.club, title="Old weir", archived_at=make.NOW)
    page = read(cast.as_coach, reverse("missions"))
    assert "Not published yet" in page and "Draft" in page
    assert "Put away (1)" in page and "Old weir" in page


def test_a_draft_has_no_page_yet(cast):
    draft = make.MissionVersionFactory(mission__club=cast.club, published_at=None)
    response = cast.as_coach.get(reverse("mission", args=[draft.mission_id]))
    assert response.url == reverse("missions")


def test_an_observer_is_offered_nothing_to_change(cast, gate):
    for url in (reverse("missions"), reverse("mission", args=[gate.pk])):
        page = read(cast.as_observer, url)
        assert reverse("mission_edit", args=[gate.pk]) not in page
        assert "Change this tier" not in page


def test_the_list_asks_the_same_number_of_times_whatever_it_holds(cast, gate, django_assert_num_queries):
    with django_assert_num_queries(5):
        list_missions(cast.club)
    for _ in range(4):
        make.mission_with_tiers(cast.club)
    with django_assert_num_queries(5):
        list_missions(cast.club)


def test_the_mission_page_asks_at_most_sixteen_times(cast, gate, django_assert_max_num_queries):
    with django_assert_max_num_queries(16):
        cast.as_coach.get(reverse("mission", args=[gate.pk]))


def test_hatchings_are_defined_once_on_a_page(cast, gate):
    assert "<defs>" in tier_chart(cast.editions[1], None, "cm")
    assert "<defs>" not in tier_chart(cast.editions[1], None, "cm", again=True)


def test_a_target_told_by_its_contact_is_drawn_as_well(cast, gate):
    target = {key: value for key, value in make.GATE.items() if key != "precontact"}
    cast.editions[0].version.target = target | {"contact": {"x_mm": 1900.0, "y_mm": 600.0, "heading_deg": 0.0}}
    assert "tide gate" in tier_chart(cast.editions[0], None, "cm")
