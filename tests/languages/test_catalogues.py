"""Spanish and German are whole: each sentence that is marked is there, says something, and keeps its names and numbers."""

from __future__ import annotations

import gettext
import re

import pytest

from tests.languages.sentences_of import LANGUAGES, catalogue, placeholders, sentences_of_the_house
from tests.test_architecture import ROOT

PARSED = {language: catalogue(language) for language in LANGUAGES}


def test_the_reader_reads_what_the_format_allows(tmp_path, monkeypatch):
    folder = tmp_path / "locale" / "xx" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    (folder / "django.po").write_text(
        'msgid ""\nmsgstr "Language: xx\\n"\n\n#, fuzzy\nmsgid ""\n"One \\"two\\""\nmsgstr ""\n"Eins"\n\n'
        'msgid "a"\nmsgid_plural "b"\nmsgstr[0] "c"\nmsgstr[1] "d"\n'
    )
    monkeypatch.setattr("tests.languages.sentences_of.ROOT", tmp_path)
    first, second = catalogue("xx")
    assert (first.msgid, first.said, first.fuzzy) == ('One "two"', ["Eins"], True)
    assert (second.msgid, second.plural, second.said, second.fuzzy) == ("a", "b", ["c", "d"], False)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_of_the_house_is_in_the_catalogue_and_no_other(language):
    there = {(entry.msgid, entry.plural) for entry in PARSED[language]}
    wanted = sentences_of_the_house()
    assert (sorted(wanted - there, key=str), sorted(there - wanted, key=str)) == ([], [])


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_is_translated_and_looked_at(language):
    assert [entry.msgid for entry in PARSED[language] if entry.fuzzy or not all(entry.said)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_sentence_with_a_number_has_its_two_forms_and_others_one(language):
    """Spanish and German have one and other (Unicode CLDR, plural rules; Spanish's third form begins at a million)."""
    assert [e.msgid for e in PARSED[language] if len(e.said) != (1 if e.plural is None else 2)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_keeps_the_names_and_numbers_of_its_sentence(language):
    wrong = []
    for entry in PARSED[language]:
        one, many = placeholders(entry.msgid), placeholders(entry.plural or entry.msgid)
        if placeholders(entry.said[-1]) != many or placeholders(entry.said[0]) not in (one, many):
            wrong.append(entry.msgid)
    assert wrong == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_the_program_reads_is_what_the_translator_wrote(language):
    """The compiled file is kept beside its source, so that nobody who starts helmroom needs gettext."""
    with (ROOT / "locale" / language / "LC_MESSAGES" / "django.mo").open("rb") as file:
        compiled = dict(gettext.GNUTranslations(file)._catalog)
    compiled.pop("")
    wanted: dict[object, str] = {}
    for entry in PARSED[language]:
        if entry.plural is None:
            wanted[entry.msgid] = entry.said[0]
        else:
            wanted |= {(entry.msgid, form): text for form, text in enumerate(entry.said)}
    assert compiled == wanted


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_catalogue_says_how_it_speaks_and_what_it_calls_things(language):
    head = (ROOT / "locale" / language / "LC_MESSAGES" / "django.po").read_text().split("msgid", 1)[0]
    for term in ("Families", "Children", "team", "robot", "mission", "tier", "obstacle", "run", "base", "target"):
        assert re.search(rf"\b{term}\b", head), term
