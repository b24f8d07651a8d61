"""PostgreSQL away for a moment and for longer, hanging, and with a full disk."""

from __future__ import annotations

import time
from typing import Any

import psycopg

from tests.faults.fault import SERVER, NotRunHereError, Told, fault, refused_meanwhile
from tests.faults.killed import at_work
from tests.faults.people import People
from tests.faults.small_disk import fill, make_room

AWAY_S = 20.0
HANGS_S = 12.0
DISK_MB = 64


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


@fault(SERVER)
def hangs_12_s(house: Any, people: People) -> Told:
    """PostgreSQL takes connections and questions and answers none for 12 s (SIGSTOP of all its processes) while jobs run."""
    before = len(house.begun())
    people.ask_many(2)
    at_work(house, before)
    house.postgres.hang()
    try:
        told = refused_meanwhile(people, HANGS_S)
    finally:
        house.postgres.go_on()
    return told


@fault(SERVER)
def disk_full(house: Any, people: People) -> Told:
    """The disk that PostgreSQL keeps the runs on is full to the last byte for 8 s while a job runs (SQLSTATE 53100).

    Only their table lies on it: a write-ahead log that has no room ends PostgreSQL, which is ``away_20_s``. A page of the table
    holds few runs, so that the next needs a new one at once.
    """
    disk, why = house.postgres.take_disk(DISK_MB)
    if why:
        raise NotRunHereError(why)
    with psycopg.connect(house.postgres.address, autocommit=True) as line:
        line.execute(f"CREATE TABLESPACE small LOCATION '{disk}'")
        line.execute("ALTER TABLE missions_attempt SET (fillfactor = 10)")
        line.execute("ALTER TABLE missions_attempt SET TABLESPACE small")
        people.ask()
        fill(disk)
        told = refused_meanwhile(people)
        make_room(disk)
        line.execute("ALTER TABLE missions_attempt SET TABLESPACE pg_default")
        line.execute("DROP TABLESPACE small")
    house.postgres.give_disk_back()
    return told
