"""The list of what is kept is whole: every model is on it, every typed sentence, every date."""

from __future__ import annotations

from django.apps import apps
from django.db import models

from classroom.models import Member
from classroom.records.kept import FREE_DOCUMENTS, FREE_TEXT, KEPT, OF_NOBODY, Of, Until
from classroom.records.services.purge_expired import RULES
from classroom.records.walk import club_path, naming_models, own_models

#: Texts that are no sentences: names of things, codes, digests, contents of a mission.
NO_SENTENCES = {
    "classroom.Club", "classroom.Coach", "classroom.AuditEntry", "classroom.Invitation", "classroom.Team", "classroom.Member",
    "classroom.TabletSession",
    "classroom.GuardianContact", "classroom.SummaryLink", "classroom.FamilyLetter", "classroom.Spare", "classroom.Robot", "classroom.Calibration",
    "classroom.Term", "classroom.Table", "missions.Mission", "missions.MissionVersion", "missions.Tier",
    "missions.TierVersion", "missions.RotaTurn", "missions.TeamJob", "missions.CalendarFeed",
}  # fmt: skip


def test_every_model_is_on_the_list_that_the_privacy_page_is_made_from():
    assert {model._meta.label for model in apps.get_models()} - OF_NOBODY == set(KEPT)


def test_every_record_that_names_a_child_says_that_it_does():
    named = {model._meta.label for model in (Member, *naming_models())}
    assert {label for label, kept in KEPT.items() if kept.of in (Of.CHILD, Of.FAMILY)} == named


def test_each_date_of_deletion_has_its_rule_and_each_rule_its_date():
    by_rule = {Until.RETENTION, Until.AFTERWARDS, Until.DAY, Until.EXPIRY}
    assert {label for label, kept in KEPT.items() if kept.until in by_rule} == {rule.label for rule in RULES}


def test_every_field_that_people_type_sentences_into_is_searched_for_an_erased_name():
    typed = {
        model._meta.label
        for model in own_models()
        if any(
            isinstance(f, models.CharField | models.TextField) and not f.choices for f in model._meta.concrete_fields
        )
    }
    assert typed - NO_SENTENCES == set(FREE_TEXT)
    for label, fields in (FREE_TEXT | FREE_DOCUMENTS).items():
        assert {field.name for field in apps.get_model(label)._meta.fields} >= set(fields)


def test_the_way_to_the_club_is_found_for_every_kind_of_record():
    assert club_path(apps.get_model("missions.Attempt")) == "team__club"
    assert club_path(apps.get_model("missions.QuickNote")) == "session__term__club"
    assert club_path(apps.get_model("classroom.SignInFailure")) is None
