"""``python -m tests.config.plans``, on an empty PostgreSQL: which queries of which page read a whole large table.

A club stands among hundreds of copies of itself, so that PostgreSQL's planner would choose otherwise than among few rows. Every
SELECT of a page, and of a run that is saved, is explained with the values it was sent with.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

CLUBS, TEAMS, RUNS = 600, 6, 60
#: A table with fewer rows may be read whole: for a page of seventy turns that is cheaper than to look up each.
LARGE = 10_000
PAGES = ("board", "board_changed", "today", "rota", "team", "family", "evidence", "pictures", "mission", "log", "save",
         "tablet_mission", "tablet_log", "news_unchanged")  # fmt: skip


def nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield plan
    for part in plan.get("Plans", []):
        yield from nodes(part)


def main() -> None:
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection
    from django.utils import timezone

    from benchmarks.many_clubs import multiply
    from benchmarks.own_database import gather_statistics
    from benchmarks.server_views import asked
    from benchmarks.working_club import signed_in, working_club

    call_command("migrate", verbosity=0)
    here = signed_in(working_club(TEAMS, 1, RUNS, now=timezone.now()))
    multiply(CLUBS)
    gather_statistics()
    with connection.cursor() as cursor:
        cursor.execute("select relname, reltuples from pg_class where relkind = 'r'")
        rows = dict(cursor.fetchall())
    large = {name for name, count in rows.items() if count >= LARGE}
    requests = asked(here)
    found: dict[str, Any] = {
        "large": sorted(large),
        "rows": int(rows["missions_attempt"]),
        "whole": [],
        "explained": {},
    }

    def explained(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        result = execute(sql, params, many, context)
        if sql.lstrip().startswith("SELECT"):
            with context["connection"].connection.cursor() as beside:
                beside.execute(f"EXPLAIN (FORMAT JSON) {sql}", params)
                plan = beside.fetchone()[0][0]["Plan"]
            found["explained"][page] = found["explained"].get(page, 0) + 1
            for node in nodes(plan):
                if node["Node Type"].endswith("Seq Scan") and node.get("Relation Name") in large:
                    found["whole"].append([page, node["Relation Name"], sql[:600]])
        return result

    for page in PAGES:
        requests[page]()  # what a process asks once is not asked again
        with connection.execute_wrapper(explained):
            requests[page]()
    print(json.dumps(found))


if __name__ == "__main__":
    main()
