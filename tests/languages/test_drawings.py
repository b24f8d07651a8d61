"""A drawing's numbers are for the browser: a decimal comma in one of them, and the line is not drawn."""

from __future__ import annotations

import re

import pytest

from tests.languages.sentences_of import template_names
from tests.test_architecture import ROOT

DRAWN = re.compile(
    r"""\s(?:r|rx|ry|x|y|x1|x2|y1|y2|cx|cy|dx|dy|d|points|width|height|viewBox|transform|stroke-width)="([^"]*)\""""
)
#: What writes a number as people of a place do; "u" or ``unlocalize`` takes it back.
FOR_PEOPLE = re.compile(r"\|(floatformat(?!:'\d*u)|figure|intcomma|localize)")


def numbers_for_people(template: str) -> list[str]:
    return [value for value in DRAWN.findall(template) if FOR_PEOPLE.search(value) and "unlocalize" not in value]


@pytest.mark.parametrize("name", template_names())
def test_a_drawing_s_numbers_are_alike_in_every_language(name: str) -> None:
    assert numbers_for_people((ROOT / "templates" / name).read_text()) == []


def test_a_number_for_people_is_seen() -> None:
    assert numbers_for_people('<circle r="{{ dot|floatformat:1 }}" cx="{{ dot }}" />') == ["{{ dot|floatformat:1 }}"]
    assert numbers_for_people("""<circle r="{{ dot|floatformat:'1u' }}" /><b title="{{ dot|figure }}">""") == []
