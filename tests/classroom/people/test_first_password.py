"""A coach whose account somebody else made comes in by a link that sets a password, once."""

from __future__ import annotations

import pytest
from django.test import Client

from classroom.people.services.first_password import first_password_path
from tests import factories as make

PASSWORD = {"password1": "spring-tide-at-six", "password2": "spring-tide-at-six"}


@pytest.fixture
def user(db):
    user = make.UserFactory()
    user.set_unusable_password()
    user.save()
    return user


def test_the_link_sets_a_password_once_and_then_leads_to_no_form(user):
    path, client = first_password_path(user), Client()
    page = client.get(path, follow=True)
    assert 'name="password1"' in page.content.decode()
    assert client.post(page.request["PATH_INFO"], PASSWORD).status_code == 302
    user.refresh_from_db()
    assert user.check_password(PASSWORD["password1"])
    assert 'name="password1"' not in Client().get(path, follow=True).content.decode()


def test_it_is_for_one_account_alone(user):
    path, other = first_password_path(user), make.UserFactory()
    theirs = first_password_path(other).split("/")[-2].split("-")[0]
    mine = path.split("/")[-2].split("-")[0]
    page = Client().get(path.replace(f"/{mine}-", f"/{theirs}-"), follow=True)
    assert 'name="password1"' not in page.content.decode()
