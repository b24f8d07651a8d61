"""Models and migrations agree, and each app has one chain."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from missions.readiness.rules.evidence import Evidence
from tests import factories as make

APPS = ["classroom", "missions", "planning"]


def test_no_model_has_changed_without_a_migration(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.parametrize("app", APPS)
def test_an_apps_migrations_are_one_chain(app, db):
    loader = MigrationLoader(connection)
    assert len(loader.graph.leaf_nodes(app)) == 1
    assert not loader.detect_conflicts()


@pytest.mark.parametrize("app", APPS)
def test_every_migration_can_be_undone(app, db):
    loader = MigrationLoader(connection)
    for (owner, name), migration in loader.disk_migrations.items():
        if owner == app:
            assert all(step.reversible for step in migration.operations), name


@pytest.mark.django_db(transaction=True)
def test_versions_take_over_the_title_and_tiers_that_were_shown_and_mark_what_is_left_out():
    before, after = ("missions", "0001_initial"), ("missions", "0003_tier_order_once_per_version")
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    executor.migrate([before, ("classroom", "0002_spares")])
    try:
        old = executor.loader.project_state([before]).apps
        club = old.get_model("classroom", "Club").objects.create(
            name="Saltmarsh", time_zone="Europe/London", created_at=make.NOW
        )
        mission = old.get_model("missions", "Mission").objects.create(club=club, title="Tide gate")
        tiers = [mission.tiers.create(order=n, kind="plain", name=f"Tier {n}") for n in (1, 2)]
        for number, shown in ((1, tiers), (2, tiers[1:])):
            content = {"width_mm": 2400, "depth_mm": 1200, "base": [], "target": {}, "summary": "Shut it"}
            version = mission.versions.create(number=number, published_at=make.NOW, edited_at=make.NOW, **content)
            for tier in shown:
                version.tier_versions.create(tier=tier, criteria=[])
        executor = MigrationExecutor(connection)
        executor.migrate([after])
        new = executor.loader.project_state([after]).apps
        rows = new.get_model("missions", "TierVersion").objects.order_by("version__number", "order")
        assert list(rows.values_list("version__title", "order", "name")) == [
            ("Tide gate", 1, "Tier 1"),
            ("Tide gate", 2, "Tier 2"),
            ("Tide gate", 2, "Tier 2"),
        ]
        left_out = new.get_model("missions", "Tier").objects.exclude(left_out_at=None)
        assert list(left_out.values_list("name", "left_out_at")) == [("Tier 1", make.NOW)]
    finally:
        MigrationExecutor(connection).migrate(leaves)


@pytest.mark.django_db(transaction=True)
def test_a_robot_lent_before_is_lent_after_and_back_again():
    before, after = [("missions", "0004_checked_with"), ("classroom", "0002_spares")], ("missions", "0005_loans_moved")
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    executor.migrate(before)
    try:
        old = executor.loader.project_state(before).apps
        club = old.get_model("classroom", "Club").objects.create(name="Saltmarsh", created_at=make.NOW)
        day = make.NOW.date()
        term = club.terms.create(name="Autumn", starts_on=day, ends_on=day)
        session = term.sessions.create(starts_at=make.NOW, ends_at=make.NOW.replace(hour=23))
        robot = club.robots.create(
            name="Kit 3", travel_footprint=[], wheel_diameter_mm=56, track_width_mm=112, changed_at=make.NOW
        )
        teams = [club.teams.create(name=name, order=n, join_code=name) for n, name in enumerate(("Curlew", "Plover"))]
        kept = old.get_model("missions", "TeamDay").objects
        kept.create(session_id=session.pk, team_id=teams[0].pk, robot_id=robot.pk, away=False)
        kept.create(session_id=session.pk, team_id=teams[1].pk, away=True)
        executor = MigrationExecutor(connection)
        executor.migrate([after])
        new = executor.loader.project_state([after]).apps
        loans = new.get_model("classroom", "RobotLoan").objects.values_list("session", "team__name", "robot__name")
        assert list(loans) == [(session.pk, "Curlew", "Kit 3")]
        MigrationExecutor(connection).migrate(before)
        assert list(kept.order_by("team__name").values_list("team__name", "robot__name", "away")) == [
            ("Curlew", "Kit 3", False),
            ("Plover", None, True),
        ]
    finally:
        MigrationExecutor(connection).migrate(leaves)


@pytest.mark.django_db(transaction=True)
def test_calibrations_keep_their_kind_and_any_other_may_come_beside_them():
    before, after = ("classroom", "0003_robot_loans"), ("classroom", "0004_calibration_kinds_registered")
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    executor.migrate([before])
    try:
        old = executor.loader.project_state([before]).apps
        club = old.get_model("classroom", "Club").objects.create(name="Saltmarsh", created_at=make.NOW)
        robot = club.robots.create(
            name="Kit 3", travel_footprint=[], wheel_diameter_mm=56, track_width_mm=112, changed_at=make.NOW
        )
        measured = {"surface": "mat", "runs": [{"seconds": 0}], "fit": {"runs": 1}, "measured_at": make.NOW}
        first = robot.calibrations.create(kind="rest_drift", **measured)
        robot.calibrations.filter(pk=first.pk).update(superseded_by=robot.calibrations.create(kind="spin", **measured))
        was = list(robot.calibrations.order_by("pk").values())
        executor = MigrationExecutor(connection)
        executor.migrate([after])
        kept = executor.loader.project_state([after]).apps.get_model("classroom", "Calibration").objects
        assert list(kept.order_by("pk").values()) == was
        kept.create(robot_id=robot.pk, kind="how_far_it_coasts", **measured)
        with pytest.raises(IntegrityError), transaction.atomic():
            kept.create(robot_id=robot.pk, kind="", **measured)
        kept.filter(kind="how_far_it_coasts").delete()
        MigrationExecutor(connection).migrate([before])
        assert list(robot.calibrations.order_by("pk").values()) == was
    finally:
        MigrationExecutor(connection).migrate(leaves)


@pytest.mark.django_db(transaction=True)
def test_rules_keep_their_meaning_and_evidence_is_gathered_anew_when_rates_may_move():
    before, after = ("missions", "0005_loans_moved"), ("missions", "0006_rates_that_move")
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    executor.migrate([before, ("classroom", "0004_calibration_kinds_registered")])
    try:
        old = executor.loader.project_state([before]).apps
        policy = {"forget": 0.9, "clean_of": 9, "target": 0.7}
        club = old.get_model("classroom", "Club").objects.create(
            name="Saltmarsh", time_zone="Europe/London", created_at=make.NOW, readiness_policy=policy
        )
        team = old.get_model("classroom", "Team").objects.create(club=club, name="Curlew")
        mission = old.get_model("missions", "Mission").objects.create(club=club, title="Tide gate")
        content = {
            "width_mm": 2400,
            "depth_mm": 1200,
            "base": [],
            "target": {},
            "summary": "Shut it",
            "title": "Tide gate",
        }
        version = mission.versions.create(number=1, published_at=make.NOW, edited_at=make.NOW, **content)
        editions = []
        for number, rule in ((1, {"clean_runs": 6}), (2, {"dates": 1})):
            tier = mission.tiers.create(order=number, kind="plain", name=f"Tier {number}")
            editions.append(
                version.tier_versions.create(tier=tier, order=number, name=tier.name, criteria=[], rule=rule)
            )
        kept = {
            "a": 2.0,
            "b": 1.0,
            "runs": 1,
            "since_change": 1,
            "strip": [],
            "dates": [],
            "best_s": 40.0,
            "landed": [],
        }
        progress = old.get_model("missions", "Progress").objects.create(
            team=team, tier=editions[0].tier, state="working", updated_at=make.NOW, evidence=kept
        )
        for k in range(3):
            old.get_model("missions", "Attempt").objects.create(
                uuid=f"00000000-0000-4000-8000-00000000000{k}",
                team=team,
                tier=editions[0].tier,
                tier_version=editions[0],
                made_at=make.NOW,
                received_at=make.NOW,
                outcomes={"done": True},
                success=k > 0,
            )
        executor = MigrationExecutor(connection)
        executor.migrate([after])
        new = executor.loader.project_state([after]).apps
        assert new.get_model("classroom", "Club").objects.get().readiness_policy == {
            "clean_of": 9,
            "target": 0.7,
            "clean_runs": 8,
        }
        rules = list(new.get_model("missions", "TierVersion").objects.order_by("order").values_list("rule", flat=True))
        assert rules == [{"clean_runs": 6, "clean_of": 9}, {"dates": 1}]
        row = new.get_model("missions", "Progress").objects.get(pk=progress.pk)
        evidence = Evidence.from_dict(row.evidence)
        assert (evidence.runs, evidence.history) == (3, "011")
        assert (row.evidence["best_s"], row.evidence["fold"]) == (40.0, [0.5, 12])
        assert row.why.startswith("Only 3 runs: 2 of the last 3 (") and row.answer == "too_few"
    finally:
        MigrationExecutor(connection).migrate(leaves)


@pytest.mark.django_db(transaction=True)
def test_clubs_of_before_each_get_a_name_of_their_own_among_installations():
    before, after = ("classroom", "0007_link_letters"), ("classroom", "0008_club_uuid")
    executor = MigrationExecutor(connection)
    leaves = executor.loader.graph.leaf_nodes()
    executor.migrate([before])
    try:
        old = executor.loader.project_state([before]).apps.get_model("classroom", "Club").objects
        for name in ("Saltmarsh", "Mudflat"):
            old.create(name=name, created_at=make.NOW)
        executor = MigrationExecutor(connection)
        executor.migrate([after])
        clubs = executor.loader.project_state([after]).apps.get_model("classroom", "Club").objects
        assert len(set(clubs.values_list("uuid", flat=True))) == 2
    finally:
        MigrationExecutor(connection).migrate(leaves)
