"""Every form of every role, each field filled in badly: never an error page, nothing of another club seen or changed.

The suite sends a part of it, to the forms of a third of the pages; ``make hostile`` sends ten thousand to all.
``HELMROOM_HOSTILE_SEED`` chooses others.
"""

from __future__ import annotations

import os
import time
from random import Random
from typing import Any

import pytest
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from tests import factories as make
from tests.conftest import make_cast, signed_in_support
from tests.hostile.posting import Sender, Tally, Target, addresses_for, in_turns, let_in, targets_of
from tests.hostile.two_clubs import OtherClub, full_world

A_PART = 300
POSTS = int(os.environ.get("HELMROOM_HOSTILE_POSTS", A_PART))
SEED = int(os.environ.get("HELMROOM_HOSTILE_SEED", "1"))
ROLES = ("nobody", "guardian_a", "team_a", "coach")


def let_change() -> Client:
    """Support that has given a reason, and so may change things."""
    client = signed_in_support(make.UserFactory(is_staff=True, is_superuser=True))
    client.post(reverse("admin:reason"), {"reason": "Asked for by nobody at all."})
    return client


def support_addresses(world: Any) -> dict[str, str]:
    """Lists, and the page of one row of each kind, of the support site."""
    found = {"reason": reverse("admin:reason")}
    for model in admin.site._registry:
        name = f"admin:{model._meta.app_label}_{model._meta.model_name}"
        found[f"{name}_changelist"] = reverse(f"{name}_changelist")
        found[f"{name}_add"] = reverse(f"{name}_add")
        row = model._default_manager.order_by("-pk").first()
        if row is not None:
            found[f"{name}_change"] = reverse(f"{name}_change", args=[row.pk])
            found[f"{name}_delete"] = reverse(f"{name}_delete", args=[row.pk])
    return found


def all_targets(other: OtherClub) -> tuple[list[Target], dict[str, Client]]:
    """In the suite those of a third of the addresses."""
    cast, random = make_cast(), Random(SEED)

    def some(addresses: dict[str, str]) -> dict[str, str]:
        chosen = addresses if POSTS > A_PART else random.sample(sorted(addresses), -(-len(addresses) // 3))
        return {key: addresses[key] for key in chosen}

    world, arguments, sent = full_world(cast)
    ours, theirs = addresses_for(arguments), addresses_for(other.arguments)
    clients = cast.clients | {"support": let_change()}
    found = []
    for role in ROLES:
        found += targets_of(clients[role], role, some(let_in(role, ours)), sent, theirs)
    found += targets_of(clients["support"], "support", some(support_addresses(world)), {}, {})
    return found, clients


@pytest.mark.slow
def test_whatever_is_sent_is_answered_in_words_and_touches_no_other_club(db: None) -> None:
    other = OtherClub()
    targets, clients = all_targets(other)
    by_role = {role: sum(target.role == role for target in targets) for role in (*ROLES, "support")}
    tally, began = Tally(), time.process_time()
    with Sender(clients, other, tally, SEED) as sender:
        for target in in_turns(targets, Random(SEED), POSTS):
            sender.send(target)
    took = time.process_time() - began
    print(f"seed {SEED}: {tally.posts} sent to {by_role}, {took:.0f} s: answers {dict(sorted(tally.answers.items()))}")
    assert tally.findings == {}
    assert min(by_role.values()) >= 1 and by_role["coach"] >= 40
    assert tally.answers[200] + tally.answers[302] + tally.answers[422] > tally.posts / 3
    assert other.harmed({model._meta.db_table for model in other.keys}) == []
