"""``python -m tests.faults.seed TEAMS``, under a house's settings: an invented club, and everybody's sign-in as JSON."""

from __future__ import annotations

import json
import sys


def main(teams: int) -> None:
    import django

    django.setup()
    from benchmarks.tablet_server import populate
    from classroom.models import Coach
    from missions.models import Tier
    from tests.factories import PASSWORD

    made = populate(teams)
    tiers = list(Tier.objects.order_by("order").values_list("pk", flat=True))
    print(json.dumps(made | {"tiers": tiers, "email": Coach.objects.get().user.email, "password": PASSWORD}))


if __name__ == "__main__":
    main(int(sys.argv[1]))
