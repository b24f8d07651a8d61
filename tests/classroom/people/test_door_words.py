"""The coaches' door, whose forms are a library's, speaks as the other pages do."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from tests.pages import page_of

pytestmark = pytest.mark.django_db
DOORS = ["account_login", "account_reset_password"]


@pytest.mark.parametrize("door", DOORS)
def test_the_door_asks_for_an_e_mail_by_the_word_of_the_club_s_pages(door):
    labels = re.findall(r"<label[^>]*>([^<]*)</label>", page_of(Client().get(reverse(door))))
    assert next(label.strip() for label in labels) == "E-mail"


@pytest.mark.parametrize("door", DOORS)
def test_no_box_at_the_door_looks_filled_before_it_is(door):
    page = page_of(Client().get(reverse(door)))
    assert 'type="email"' in page and "placeholder" not in page


@pytest.mark.parametrize("door", DOORS)
def test_the_door_says_e_mail_in_a_coach_s_language(door):
    assert ">E-Mail</label>" in page_of(Client().get(reverse(door), headers={"accept-language": "de"}))
