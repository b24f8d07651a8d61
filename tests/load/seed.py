"""``python -m tests.load.seed TABLETS CLUBS``, under a house's settings: invented clubs at work, and everybody's sign-in as JSON."""

from __future__ import annotations

import json
import sys

#: Behind each team: what its club's earlier sessions left.
RUNS_A_TEAM = 60
MISSIONS = 1


def main(tablets: int, clubs: int) -> None:
    import django

    django.setup()
    from django.utils import timezone

    from benchmarks.own_database import gather_statistics
    from benchmarks.working_club import signed_in, working_club

    people = []
    for number in range(clubs):
        teams = tablets // clubs + (number < tablets % clubs)
        people.append(signed_in(working_club(teams, MISSIONS, teams * RUNS_A_TEAM, now=timezone.now())))
    gather_statistics()
    print(json.dumps(people))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
