"""What may be kept of a child: a list that a new field must be put on by hand, or this fails.

Guard P1: nickname or first name only; no birth date, surname, photo, place, health, free profile text. Sources: 16 CFR
312.7 (no more than is reasonably necessary), GDPR art. 5(1)(c) and 25 (from memory).
"""

from __future__ import annotations

import re

import pytest
from django.apps import apps
from django.db import models

OWN_APPS = ("classroom", "missions", "planning", "config")

#: All that is kept of a child or its family, field by field.
OF_A_CHILD = {
    "classroom.Member": {"id", "club", "nickname", "family_language"},
    "classroom.Membership": {"id", "member", "team", "joined_on", "left_on"},
    "classroom.Attendance": {"id", "session", "member", "present"},
    "missions.TeamJob": {"id", "session", "team", "slot", "job", "member"},
    "classroom.GuardianContact": {
        "id",
        "member",
        "email",
        "language",
        "consent_notice",
        "consented_at",
        "consent_recorded_by",
        "withdrawn_at",
        "no_mail_since",
        "no_mail_why",
    },
    "classroom.FamilyLetter": {
        "id",
        "member",
        "contact",
        "link",
        "state",
        "asked_by",
        "asked_at",
        "tries",
        "next_try_at",
        "left_at",
        "sent_at",
        "stop_digest",
    },
    "classroom.SummaryLink": {
        "id",
        "member",
        "contact",
        "letter",
        "token_digest",
        "created_by",
        "created_at",
        "expires_at",
        "revoked_at",
        "last_opened_at",
        "language",
    },
    "classroom.SummaryWords": {
        "id",
        "member",
        "learnt",
        "working_on",
        "ask_at_home",
        "written_at",
        "approved_by",
        "approved_at",
        "language",
    },
}
#: Words in a field's name that would mean more than that. A coach is an adult with a name and an address.
NEVER = re.compile(
    r"birth|(^|_)age($|_)|surname|last_name|family_name|photo|picture|avatar|image|video|voice|gender|sex$|school|"
    r"address|street|postcode|zip|phone|mobile|health|allerg|medic|diagnos|religion|ethnic|nation|passport|biometr|"
    r"latitude|longitude|geo|ip_addr|device_id|fingerprint|score|rank|points",
    re.IGNORECASE,
)
COACH_MAY = {("classroom.User", "last_name")}


def own_models() -> list[type[models.Model]]:
    return [model for model in apps.get_models() if model._meta.app_label in OWN_APPS]


def named(model: type[models.Model]) -> str:
    return f"{model._meta.app_label}.{model.__name__}"


def test_every_record_that_names_a_child_is_on_the_list():
    member = apps.get_model("classroom", "Member")
    naming = {
        named(model)
        for model in own_models()
        if any(field.is_relation and field.related_model is member and field.concrete for field in model._meta.fields)
    }
    assert naming | {"classroom.Member"} == set(OF_A_CHILD)


@pytest.mark.parametrize("name", sorted(OF_A_CHILD))
def test_of_a_child_nothing_else_is_kept(name):
    fields = {field.name for field in apps.get_model(name)._meta.get_fields() if getattr(field, "concrete", False)}
    assert fields == OF_A_CHILD[name], "more of a child is kept: is it needed, and is it on the privacy page?"


def test_no_field_anywhere_asks_for_more():
    found = [
        (named(model), field.name)
        for model in own_models()
        for field in model._meta.get_fields()
        if getattr(field, "concrete", False) and NEVER.search(field.name)
    ]
    assert set(found) - COACH_MAY == set()


def test_no_file_or_picture_is_ever_stored():
    files = [
        (named(model), field.name)
        for model in own_models()
        for field in model._meta.fields
        if isinstance(field, models.FileField)
    ]
    assert files == []


def test_a_childs_name_is_short_and_a_familys_sentences_are_sentences():
    assert apps.get_model("classroom", "Member")._meta.get_field("nickname").max_length == 24
    words = apps.get_model("classroom", "SummaryWords")._meta
    assert {words.get_field(name).max_length for name in ("learnt", "working_on", "ask_at_home")} == {200}


def test_a_child_has_no_account():
    user = apps.get_model("classroom", "User")
    assert not any(
        field.related_model is user for field in apps.get_model("classroom", "Member")._meta.fields if field.is_relation
    )


def test_tokens_and_pins_have_no_field_of_their_own():
    """Only their digests and hashes are kept."""
    names = {
        (named(m), f.name)
        for m in own_models()
        for f in m._meta.fields
        if re.search(r"token|pin\b|pin_|secret", f.name)
    }
    assert {name for _, name in names} <= {"token_digest", "pin_hash", "token"}
    assert {model for model, name in names if name == "token"} <= {"planning.Job"}  # a fencing number, no secret
