"""The README's figures are those of the pages that they are taken from, and each of those names its command."""

import re

import pytest
from django.conf import settings

from benchmarks.__main__ import all_figures

ROOT = settings.BASE_DIR
FIGURES = all_figures()
FIGURE = re.compile(r"\d[\d,.]*(?: (?:ms|s|MB|kB|%))?")


def table_under(page, heading):
    """Rows of the first table under a heading, without its head."""
    text = (ROOT / page).read_text().split(f"\n## {heading}\n", 1)[1]
    lines = re.split(r"^\|[-|\s]+\|$", text, maxsplit=1, flags=re.MULTILINE)[1].strip().split("\n\n")[0].splitlines()
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


README = table_under("README.md", "Measured")
MEASURED = table_under("docs/measured.md", "How fast and how good it is")


@pytest.mark.parametrize("row", README, ids=lambda row: row[0][:40])
def test_a_figure_of_the_readme_stands_where_it_was_measured(row):
    pages = "\n".join(row[1] for row in MEASURED) + (ROOT / "docs/load.md").read_text()
    there = set(FIGURE.findall(pages))
    assert [figure for figure in FIGURE.findall(row[1]) if figure not in there] == []


@pytest.mark.parametrize("row", MEASURED, ids=lambda row: row[0][:40])
def test_each_measured_row_names_its_command(row):
    prefixes = re.findall(r"`([a-z]+\.[a-z0-9_]*)`", row[-1])
    assert prefixes
    assert [prefix for prefix in prefixes if not any(name.startswith(prefix) for name in FIGURES)] == []
