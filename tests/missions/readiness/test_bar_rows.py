"""A bar as it is kept: the rows that change, the sentences of a refusal, and the exact ranges of its form."""

from __future__ import annotations

import datetime as dt

import pytest

from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import Club
from missions.models import BarChange, Progress, TierVersion
from missions.readiness.forms.bar import COUNTS, SHARES, BarForm
from missions.readiness.services.set_bar import bar_mark, set_club_bar, set_tier_bar
from tests import factories as make
from tests.log import noted_by, tells_live_pages

NOW = make.NOW
MEANT = "That is the bar as it stands. Change a number, or leave it."
TOO_CLEAN = "Clean runs are counted among the last runs of the strip; lengthen the strip or ask for fewer."


@pytest.fixture
def editions(cast):
    return make.mission_with_tiers(cast.club)[1]


def refused(error, act):
    with pytest.raises(error) as raised:
        act()
    assert not BarChange.objects.exists()
    return raised.value.code, raised.value.message


def bars():
    """The bar of each tier in each of its versions."""
    rows = TierVersion.objects.order_by("version__number", "order", "pk")
    return [(row.version.number, row.order, row.rule) for row in rows if row.rule]


def ready_team(cast, edition):
    """A team that is ready by the usual bar, its answer not read yet."""
    progress = make.ProgressFactory(team=cast.team_a, tier=edition.tier)
    for i in range(12):
        at = NOW - dt.timedelta(days=7 if i < 6 else 0, minutes=20 - i)
        make.AttemptFactory(team=cast.team_a, tier_version=edition, made_at=at)
    return progress


def answer_of(progress):
    return Progress.objects.get(pk=progress.pk).answer


# A tier's bar


def test_a_tiers_bar_is_set_in_its_newest_version_and_in_drafts_that_had_the_same(cast, editions):
    first = editions[0]
    mission = first.version.mission
    newer = make.TierVersionFactory(tier=first.tier, version=make.MissionVersionFactory(mission=mission, number=2))
    draft = make.MissionVersionFactory(mission=mission, number=3, published_at=None)
    make.TierVersionFactory(tier=first.tier, version=draft)
    make.TierVersionFactory(tier=editions[1].tier, version=draft)
    progress = ready_team(cast, first)
    assert set_tier_bar(cast.coach, first.tier, {"target": 0.95}, " The  show\n", NOW) == newer
    assert bars() == [(2, 1, {"target": 0.95}), (3, 1, {"target": 0.95})]
    assert answer_of(progress) == "working"
    TierVersion.objects.filter(version=draft).update(rule={"dates": 3})
    set_tier_bar(cast.coach, first.tier, {}, "As usual", NOW)
    assert [bar for bar in bars() if bar[0] == 2] == [] and len(bars()) == 2
    assert answer_of(progress) == "ready"
    kept = [
        (row.club, row.tier_version, row.before, row.after, row.by, row.at, row.reason)
        for row in BarChange.objects.order_by("pk")
    ]
    assert kept == [
        (cast.club, newer, {}, {"target": 0.95}, cast.coach, NOW, "The show"),
        (cast.club, newer, {"target": 0.95}, {}, cast.coach, NOW, "As usual"),
    ]


def test_a_tiers_bar_is_noted_and_live_pages_hear_of_it(cast, editions):
    tier = editions[0].tier
    act = lambda: set_tier_bar(cast.assistant, tier, {"dates": 3}, "Why", NOW)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == [f"assistant changed the bar (tier {tier})"]
    assert tells_live_pages(lambda: set_tier_bar(cast.coach, tier, {"dates": 4}, "Why", NOW), cast.club)


@pytest.mark.parametrize(
    ("case", "error", "code", "words"),
    [
        ("other", NotAllowedError, "other_club", "This tier is not of your club."),
        ("observer", NotAllowedError, "observer", "An observer looks and changes nothing. Ask a coach to do this."),
        ("reason", InputError, "reason_needed", "Say why the bar changes: teams and the other coaches will ask."),
        ("draft", InputError, "not_published", "“Plain route” is not published yet. Set its bar in the editor."),
        ("same", InputError, "same_bar", MEANT),
        ("rule", InputError, "bad_rule", f"“Plain route”: {TOO_CLEAN}"),
        ("key", InputError, "unknown_key", "“Plain route”: A readiness rule has no “height”."),
    ],
)
def test_a_tiers_bar_that_cannot_be_is_refused_in_a_sentence(cast, editions, case, error, code, words):
    coach = {"other": cast.other_coach, "observer": cast.observer}.get(case, cast.coach)
    rule = {"same": {}, "rule": {"clean_runs": 13}, "key": {"height": 1}}.get(case, {"dates": 3})
    if case == "draft":
        editions[0].version.published_at = None
        editions[0].version.save()
    reason = " \n" if case == "reason" else "Why"
    assert refused(error, lambda: set_tier_bar(coach, editions[0].tier, rule, reason, NOW)) == (code, words)
    assert bars() == []


@pytest.mark.parametrize(("letters", "kept"), [(299, 299), (300, 300), (301, 300)])
def test_a_reason_is_kept_up_to_three_hundred_letters(cast, editions, letters, kept):
    set_tier_bar(cast.coach, editions[0].tier, {"dates": 3}, "x" * letters, NOW)
    assert BarChange.objects.get().reason == "x" * kept


def test_the_slower_of_two_hears_who_set_the_bar(cast, editions):
    tier, club = editions[0].tier, cast.club
    seen = bar_mark({})
    assert bar_mark({"dates": 3, "target": 0.7}) == bar_mark({"target": 0.7, "dates": 3}) != seen
    set_tier_bar(cast.assistant, tier, {"dates": 3}, "Why", NOW, seen=seen)
    set_club_bar(cast.coach, {"dates": 4}, "Why", NOW, seen=seen)
    for act, who in (
        (lambda: set_tier_bar(cast.coach, tier, {"dates": 5}, "Why", NOW, seen=seen), cast.assistant),
        (lambda: set_club_bar(cast.coach, {"dates": 5}, "Why", NOW, seen=seen), cast.coach),
    ):
        with pytest.raises(ConflictError) as raised:
            act()
        assert raised.value.code == "changed_meanwhile" and raised.value.message.startswith(f"{who} changed this")
    assert (bars(), Club.objects.get(pk=club.pk).readiness_policy) == ([(1, 1, {"dates": 3})], {"dates": 4})


# The club's bar


def test_a_clubs_bar_is_read_anew_in_all_its_tiers_that_are_not_put_away(cast, editions):
    put_away = make.mission_with_tiers(cast.club)[1][0]
    put_away.tier.mission.archived_at = NOW
    put_away.tier.mission.save()
    here, away = ready_team(cast, editions[0]), ready_team(cast, put_away)
    before = answer_of(away)
    club = set_club_bar(cast.coach, {"target": 0.95}, "The show", NOW)
    assert Club.objects.get(pk=cast.club.pk).readiness_policy == {"target": 0.95} == club.readiness_policy
    assert Club.objects.get(pk=cast.other_coach.club_id).readiness_policy == {}
    assert (answer_of(here), answer_of(away)) == ("working", before)
    row = BarChange.objects.get()
    assert (row.club, row.tier_version, row.before, row.after, row.by, row.at, row.reason) == (
        cast.club,
        None,
        {},
        {"target": 0.95},
        cast.coach,
        NOW,
        "The show",
    )


def test_a_clubs_bar_is_noted_and_live_pages_hear_of_it(cast, editions):
    act = lambda: set_club_bar(cast.coach, {"dates": 3}, "Why", NOW)  # noqa: E731
    assert noted_by(act, cast.club, NOW) == ["lead changed the bar (club Saltmarsh Makers Club)"]
    assert tells_live_pages(lambda: set_club_bar(cast.coach, {"dates": 4}, "Why", NOW), cast.club)


@pytest.mark.parametrize(
    ("case", "error", "code", "words"),
    [
        ("assistant", NotAllowedError, "not_lead", "Only a lead coach sets the club's bar. Ask one of them."),
        ("observer", NotAllowedError, "observer", "An observer looks and changes nothing. Ask a coach to do this."),
        ("reason", InputError, "reason_needed", "Say why the bar changes: teams and the other coaches will ask."),
        ("same", InputError, "same_bar", MEANT),
        ("a tier's", InputError, "bad_rule", f"“With obstacle”: {TOO_CLEAN}"),
        ("own", InputError, "bad_rule", TOO_CLEAN),
    ],
)
def test_a_clubs_bar_that_cannot_be_is_refused_in_a_sentence(cast, editions, case, error, code, words):
    coach = {"assistant": cast.assistant, "observer": cast.observer}.get(case, cast.coach)
    policy = {"same": {}, "a tier's": {"clean_of": 10}, "own": {"clean_runs": 13}}.get(case, {"dates": 3})
    if case == "a tier's":
        TierVersion.objects.filter(pk=editions[1].pk).update(rule={"clean_runs": 11})
    if case == "own":
        TierVersion.objects.all().delete()
    reason = "" if case == "reason" else "Why"
    assert refused(error, lambda: set_club_bar(coach, policy, reason, NOW)) == (code, words)
    assert Club.objects.get(pk=cast.club.pk).readiness_policy == {}


# The form


def form(told, edition=None, policy=None):
    return BarForm({"reason": "Why"} | told, policy=policy or {}, edition=edition)


RANGES = [(name, 1, 99) for name in SHARES] + [
    (name, 0 if name in ("clean_runs", "fresh_runs") else 1, 50) for name in COUNTS
]


@pytest.mark.parametrize(("name", "least", "most"), RANGES)
def test_a_share_is_1_to_99_per_cent_and_a_count_up_to_50(db, name, least, most):
    for good in (least, most):
        assert name not in form({name: good}).errors
    for bad in (least - 1, most + 1):
        assert name in form({name: bad}).errors


@pytest.mark.parametrize("number", [0, 1])
def test_the_confidence_in_time_is_asked_for_the_club_and_for_a_timed_tier_alone(cast, editions, number):
    assert "time_confidence" in form({}).fields and "time_confidence" in form({}, editions[2]).fields
    assert "time_confidence" not in form({}, editions[number]).fields


def test_only_what_differs_from_the_inherited_rule_is_kept(cast, editions):
    told = form({"target": "70", "dates": "3", "confidence": "90", "least_runs": ""}, editions[0], {"target": 0.7})
    assert told.is_valid() and told.changes() == {"dates": 3}
    assert told.rule_when_saved().dates == 3 and told.rule_when_saved().target == 0.7
    club = form({"target": "66.66", "dates": "2"}, None, {"target": 0.7, "stale_keep": 0.4})
    assert club.is_valid() and club.changes() == {"target": 0.6666, "stale_keep": 0.4}
    assert (club.rule_when_saved().stale_keep, club.rule_when_saved().target) == (0.4, 0.6666)


def test_the_form_says_what_is_inherited_and_shows_what_is_set(cast, editions):
    editions[0].rule = {"target": 0.7, "dates": 4}
    shown = BarForm(policy={"least_runs": 6}, edition=editions[0])
    assert shown.initial == {"target": 70.0, "dates": 4}
    assert shown.fields["least_runs"].help_text == "Fewer are “too few to tell”."
    assert shown.fields["least_runs"].widget.attrs["placeholder"] == "6"
    assert shown.fields["target"].help_text == (
        "Runs that have to work, of all that a team would ever make. Left empty: 65."
    )
    assert shown.fields["target"].widget.attrs["placeholder"] == "65"


def test_a_rule_that_makes_no_sense_is_told_in_the_form(db):
    told = form({"clean_runs": "9", "clean_of": "8"})
    assert not told.is_valid() and told.errors == {"__all__": [TOO_CLEAN]}
