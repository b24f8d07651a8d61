"""The same run sent on several connections at the same moment is one row, and every sender hears that it is kept."""

from __future__ import annotations

import json
import threading
from typing import Any
from uuid import uuid4

import pytest
from django.db import connections
from django.utils import timezone

from missions.models import Attempt
from tests import factories as make
from tests.conftest import signed_in_team
from tests.patience import LONGEST_S


@pytest.mark.django_db(transaction=True)
def test_parallel_duplicates_are_one_row(cast: Any) -> None:
    tier = make.mission_with_tiers(cast.club)[1][0].tier
    make.ProgressFactory(team=cast.team_a, tier=tier)
    answers = {"outcome_left_base": "yes", "outcome_done": "yes", "outcome_home": "yes"}
    item = {"uuid": str(uuid4()), "tier": tier.pk, "made_at": timezone.now().isoformat(), "duration": "38"} | answers
    body = json.dumps({"team": cast.team_a.pk, "items": [item]})
    clients = [signed_in_team(cast.team_a) for _ in range(8)]
    ready = threading.Barrier(len(clients))
    replies: list[dict[str, Any]] = []

    def send(client: Any) -> None:
        ready.wait()
        try:
            replies.extend(client.post("/team/runs/", body, content_type="application/json").json()["replies"])
        finally:
            connections.close_all()

    threads = [threading.Thread(target=send, args=(client,)) for client in clients]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LONGEST_S)
    assert [reply["status"] for reply in replies] == [200] * len(clients)
    assert Attempt.objects.count() == 1
