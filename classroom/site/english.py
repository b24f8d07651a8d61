"""English, asked once for each sentence.

Its sentences are the program's own, so hardly one is in a catalogue; and those of the packages stand one behind the other, so
that each sentence of a page was looked for in all of them in vain.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils.translation import trans_real


def put_english_into_one() -> None:
    """Told once, when the program starts. Says nothing differently: what stands in front hides what is behind."""
    english: Any = trans_real.translation(settings.LANGUAGE_CODE)
    in_front = english._catalog
    behind = [each for one in _fallbacks(english) for each in _catalogues_of(one._catalog)]
    whole: dict[Any, str] = {}
    for each in reversed([*in_front._catalogs, *behind]):
        whole.update(each)
    in_front._catalogs[:] = [whole]
    del in_front._plurals[1:]
    english._fallback = None


def _fallbacks(translation: Any) -> list[Any]:
    found = []
    while translation := translation._fallback:
        found.append(translation)
    return found


def _catalogues_of(catalog: Any) -> list[dict[Any, str]]:
    return catalog._catalogs if isinstance(catalog, trans_real.TranslationCatalog) else [catalog]
