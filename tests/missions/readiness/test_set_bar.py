from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from classroom.errors import InputError, NotAllowedError
from classroom.models import AuditEntry
from missions.models import BarChange, Progress, TierVersion
from missions.readiness.services.evidence import refresh_evidence, refresh_tier
from missions.readiness.services.set_bar import bar_mark, set_club_bar, set_tier_bar
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW


@pytest.fixture
def plain(cast):
    """The plain tier; Curlew has met every criterion in each of twelve runs on two dates."""
    _, editions = make.mission_with_tiers(cast.club)
    progress = make.ProgressFactory(team=cast.team_a, tier=editions[0].tier)
    for i in range(12):
        at = NOW - dt.timedelta(days=7 if i < 6 else 0, minutes=20 - i)
        make.AttemptFactory(team=cast.team_a, tier_version=editions[0], made_at=at)
    refresh_evidence(progress, NOW)
    return editions[0]


def refused(kind, code, call, *args):
    with pytest.raises(kind) as told:
        call(*args)
    assert told.value.code == code
    assert not BarChange.objects.exists()


def test_a_higher_bar_takes_ready_back_at_once(cast, plain):
    assert Progress.objects.get().answer == "ready"
    set_tier_bar(cast.coach, plain.tier, {"target": 0.95}, "The show is next week", NOW)
    assert Progress.objects.get().answer == "working"
    plain.refresh_from_db()
    assert plain.rule == {"target": 0.95}


def test_what_the_bar_was_is_kept_with_who_and_why(cast, plain):
    set_tier_bar(cast.coach, plain.tier, {"target": 0.8}, "Steadier than we thought", NOW)
    change = BarChange.objects.get()
    assert (change.before, change.after, change.by) == ({}, {"target": 0.8}, cast.coach)
    assert AuditEntry.objects.filter(verb="changed the bar", subject=f"tier:{plain.tier_id}").exists()


def test_a_draft_that_had_the_same_bar_follows(cast, plain):
    draft = make.MissionVersionFactory(mission=plain.version.mission, number=2, published_at=None)
    same = make.TierVersionFactory(tier=plain.tier, version=draft)
    set_tier_bar(cast.coach, plain.tier, {"target": 0.8}, "Steadier", NOW)
    assert TierVersion.objects.get(pk=same.pk).rule == {"target": 0.8}
    same.rule = {"target": 0.5}
    same.save()
    set_tier_bar(cast.coach, plain.tier, {"target": 0.7}, "Again", NOW)
    assert TierVersion.objects.get(pk=same.pk).rule == {"target": 0.5}


def test_the_clubs_bar_holds_where_a_tier_says_nothing_else(cast, plain):
    set_club_bar(cast.coach, {"target": 0.95}, "A harder term", NOW)
    assert Progress.objects.get().answer == "working"
    plain.refresh_from_db()
    set_tier_bar(cast.coach, plain.tier, {"target": 0.6}, "But not here", NOW)
    assert Progress.objects.get().answer == "ready"


@pytest.mark.parametrize(
    ("rule", "reason", "code"),
    [
        ({"target": 0.8}, "  ", "reason_needed"),
        ({}, "Nothing new", "same_bar"),
        ({"target": 7}, "Typo", "bad_rule"),
        ({"clean_runs": 9, "clean_of": 4}, "Typo", "bad_rule"),
        ({"colour": 1}, "Typo", "unknown_key"),
    ],
)
def test_a_bar_that_makes_no_sense_is_refused(cast, plain, rule, reason, code):
    refused(InputError, code, set_tier_bar, cast.coach, plain.tier, rule, reason, NOW)
    plain.refresh_from_db()
    assert plain.rule == {}


def test_a_clubs_bar_that_breaks_a_tiers_is_refused_with_its_name(cast, plain):
    plain.rule = {"clean_runs": 6, "clean_of": 8}
    plain.save()
    with pytest.raises(InputError) as told:
        set_club_bar(cast.coach, {"window": 5, "clean_runs": 3, "clean_of": 4}, "Shorter strip", NOW)
    assert "Plain route" in told.value.message


def test_who_may_set_which_bar(cast, plain):
    refused(NotAllowedError, "observer", set_tier_bar, cast.observer, plain.tier, {"target": 0.8}, "x", NOW)
    refused(NotAllowedError, "other_club", set_tier_bar, cast.other_coach, plain.tier, {"target": 0.8}, "x", NOW)
    refused(NotAllowedError, "not_lead", set_club_bar, cast.assistant, {"target": 0.8}, "x", NOW)


def test_a_tier_that_is_only_a_draft_has_its_bar_in_the_editor(cast):
    refused(
        InputError,
        "not_published",
        set_tier_bar,
        cast.coach,
        make.TierFactory(mission__club=cast.club),
        {"target": 0.8},
        "x",
        NOW,
    )


def test_another_strip_is_gathered_anew_and_the_rest_only_read_anew(cast, plain, django_assert_max_num_queries):
    plain.rule = {"target": 0.8}
    plain.save()
    with django_assert_max_num_queries(4):
        refresh_tier(plain.tier, NOW)
    plain.rule = {"window": 15}
    plain.save()
    refresh_tier(plain.tier, NOW)
    assert len(Progress.objects.get().evidence["strip"]) == 12


# The form


def test_the_form_says_what_the_bar_would_then_mean(cast, plain):
    url = reverse("tier_bar", args=[plain.tier_id])
    before = page_of(cast.as_coach.get(url))
    after = page_of(cast.as_coach.get(url, {"preview": "1", "target": "80", "dates": "3"}))
    assert "What it says now" in before and "over 65 %" in before
    assert "What it would then say" in after and "over 80 %" in after and "3 dates" in after
    plain.refresh_from_db()
    assert plain.rule == {}


def test_the_form_keeps_only_what_differs_and_what_it_does_not_show(cast, plain):
    plain.rule = {"window": 14}
    plain.save()
    sent = {"target": "80", "dates": "2", "reason": "Steadier", "seen": bar_mark(plain.rule)}
    assert cast.as_coach.post(reverse("tier_bar", args=[plain.tier_id]), sent).status_code == 302
    plain.refresh_from_db()
    assert plain.rule == {"window": 14, "target": 0.8}


def test_the_form_keeps_what_was_typed_when_it_is_refused(cast, plain):
    response = cast.as_coach.post(reverse("tier_bar", args=[plain.tier_id]), {"target": "180", "reason": "Typo"})
    assert response.status_code == 422
    assert 'value="180"' in page_of(response)


def test_the_time_is_asked_only_where_there_is_a_limit(cast, plain):
    timed = plain.version.tier_versions.get(tier__kind="timed")
    assert "time_confidence" not in page_of(cast.as_coach.get(reverse("tier_bar", args=[plain.tier_id])))
    assert "time_confidence" in page_of(cast.as_coach.get(reverse("tier_bar", args=[timed.tier_id])))
