"""English is looked for in one catalogue, and says what it said in many."""

import pytest
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override, trans_real

from classroom.site.english import put_english_into_one

ONCE = "A sentence that stands in no catalogue."


def catalogues(english):
    count = 0
    while english:
        count += len(english._catalog._catalogs) if hasattr(english._catalog, "_catalogs") else 1
        english = english._fallback
    return count


@pytest.fixture
def many(monkeypatch):
    """English as the packages bring it, before it is put into one."""
    monkeypatch.setattr(trans_real, "_translations", {})
    return trans_real.translation(settings.LANGUAGE_CODE)


def test_a_page_has_english_in_one_piece():
    with override("en-gb"):
        assert catalogues(trans_real._active.value) == 1
        assert _(ONCE) == ONCE


def test_the_packages_bring_it_in_many(many):
    assert catalogues(many) > 1


def test_in_one_piece_it_says_what_it_says_in_many(many, monkeypatch):
    monkeypatch.setattr(trans_real, "_translations", {})
    put_english_into_one()
    one = trans_real.translation(settings.LANGUAGE_CODE)
    keys = {key for catalogue in many._catalog._catalogs for key in catalogue if key}
    assert len(keys) > 100
    for key in keys:
        if isinstance(key, tuple):
            for n in (0, 1, 2):
                assert one.ngettext(key[0], "else", n) == many.ngettext(key[0], "else", n)
        else:
            assert one.gettext(key) == many.gettext(key)


@pytest.mark.parametrize(
    ("n", "said"), [(0, "%d runs of no catalogue"), (1, "%d run of no catalogue"), (2, "%d runs of no catalogue")]
)
def test_a_number_still_decides(n, said):
    with override("en-gb"):
        assert ngettext("%d run of no catalogue", "%d runs of no catalogue", n) == said
