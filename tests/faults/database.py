"""PostgreSQL away, for a moment and for longer."""

from __future__ import annotations

import time
from typing import Any

from tests.faults.fault import SERVER, Told, fault
from tests.faults.killed import at_work
from tests.faults.people import People

AWAY_S = 20.0


@fault(SERVER)
def restarted(house: Any, people: People) -> Told:
    """PostgreSQL is restarted while jobs run."""
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before)
    house.postgres.stop()
    house.postgres.start()
    return Told(words_in_time=True)


@fault(SERVER)
def away_20_s(house: Any, people: People) -> Told:
    """PostgreSQL breaks down while jobs run and is away for 20 s."""
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before)
    house.postgres.stop("immediate")
    time.sleep(AWAY_S)
    house.postgres.start()
    return Told(words_in_time=True)
