"""A laptop's disk that takes no more, and one that may only be read. Both need a small disk of the laptop's own."""

from __future__ import annotations

from typing import Any

from tests.faults.fault import LAPTOP, NotRunHereError, Told, fault, refused_meanwhile
from tests.faults.people import People


@fault(LAPTOP)
def full(house: Any, people: People) -> Told:
    """The disk of the laptop is full to the last byte for 8 s while a job runs."""
    if house.no_disk:
        raise NotRunHereError(house.no_disk)
    people.ask()
    house.fill_disk()
    told = refused_meanwhile(people)
    house.free_disk()
    return told


@fault(LAPTOP)
def read_only(house: Any, people: People) -> Told:
    """The data folder may only be read for 8 s."""
    if house.no_disk:
        raise NotRunHereError(house.no_disk)
    people.ask()
    house.make_readonly()
    told = refused_meanwhile(people)
    house.make_writable()
    return told
