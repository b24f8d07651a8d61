"""One word a thing: what docs/glossary.md says is not said, is said nowhere."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from classroom.club.audit_words import READ_AS

ROOT = Path(__file__).resolve().parent.parent
APPS = ("motion", "classroom", "missions", "planning", "config")
TABLE = re.compile(r"^\| (?P<thing>[^|]+) \| (?P<said>[^|]+) \| (?P<unsaid>[^|]+) \|$", re.M)
UNSAID = re.compile(r'"(?P<word>[^"]+)"(?: \((?P<where>[^)]+)\))?')
#: Headings of a roster that a club brings along are read, not said.
READ_NOT_SAID = ("classroom/teams/roster_columns.py",)
#: What a template holds that nobody reads: its own language, tags with all but the attributes that are read out.
NOT_SHOWN = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}|<!--.*?-->|<(?:style|script)\b.*?</(?:style|script)>", re.S)
READ_OUT = re.compile(r'\b(?:aria-label|alt|title|placeholder|data-label|data-ask|data-words)="([^"]*)"')
TAG = re.compile(r"<[^>]*>", re.S)
SENTENCE_IN_SCRIPT = re.compile(r"""(?P<q>["'`])((?:(?!(?P=q))[^\\]|\\.)*)(?P=q)""")


def unsaid() -> list[tuple[str, str]]:
    """Each word that is not said, with the word beside which it is another thing."""
    text = (ROOT / "docs/glossary.md").read_text().split("\n## Names in code")[0]
    return [
        (found["word"], found["where"] or "")
        for row in TABLE.finditer(text)
        for found in UNSAID.finditer(row["unsaid"])
    ]


def in_templates() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "templates").rglob("*.*")):
        text = NOT_SHOWN.sub(" ", path.read_text())
        for said in [*READ_OUT.findall(text), TAG.sub(" ", text)]:
            yield str(path.relative_to(ROOT)), " ".join(said.split())


def is_sentence(text: str) -> bool:
    """Two words and more, and no sign that only a query, a pattern or an address has."""
    return " " in text.strip() and text not in READ_AS and not re.search(r"[=\\]|\bSELECT\b|\bCREATE\b|https?:", text)


def in_code() -> Iterator[tuple[str, str]]:
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" in path.parts or "commands" in path.parts or str(path.relative_to(ROOT)) in READ_NOT_SAID:
                continue
            tree = ast.parse(path.read_text())
            texts = [node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)]
            documents = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
            for text in texts:
                if id(text) not in documents and is_sentence(text.value):
                    yield f"{path.relative_to(ROOT)}:{text.lineno}", text.value


def in_scripts() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "static").rglob("*.js")):
        for number, line in enumerate(path.read_text().splitlines(), 1):
            code = re.sub(r"(^|\s)//.*", "", line)
            for found in SENTENCE_IN_SCRIPT.finditer(code):
                words = re.sub(r"\$\{[^}]*\}", " ", found[2])
                if " " in words.strip() and not re.search(r"[=#\[\]>{}]", words):
                    yield f"{path.relative_to(ROOT)}:{number}", words


def all_sentences() -> list[tuple[str, str]]:
    return [*in_templates(), *in_code(), *in_scripts()]


@pytest.fixture(scope="module")
def sentences() -> list[tuple[str, str]]:
    return all_sentences()


@pytest.mark.parametrize(("word", "where"), unsaid())
def test_a_word_that_the_glossary_does_not_say_is_said_nowhere(
    word: str, where: str, sentences: list[tuple[str, str]]
) -> None:
    other = [each.strip() for each in where.split(",") if each.strip()]
    pattern = re.compile(rf"(?<![\w-]){re.escape(word)}(?![\w-])", re.I)
    found = [
        f"{place}: {said[:120]}"
        for place, said in sentences
        if pattern.search(said) and not any(each in said.lower() for each in other)
    ]
    assert found == []


def test_the_glossary_is_read() -> None:
    words = [word for word, _ in unsaid()]
    assert len(words) > 40 and len(words) == len(set(words))


def test_sentences_are_found_where_they_stand(sentences: list[tuple[str, str]]) -> None:
    for start in ("templates/", "missions/", "static/"):
        assert sum(place.startswith(start) for place, _ in sentences) > 50
