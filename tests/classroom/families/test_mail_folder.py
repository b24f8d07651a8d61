"""The mail folder of an installation without a mail server: told to the coach, emptied with the child and in time."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.mail import send_mail
from django.urls import reverse
from django.utils.translation import override

from classroom.families.letters import send_letter, write_letter
from classroom.families.mail_folder import FILES, take_mail_to, take_old_mail, what_mail_lacks
from classroom.families.share_summary import keep_contact
from classroom.records.services.erase_child import erase_child
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
ADDRESS = "wader@example.org"


@pytest.fixture
def letter(cast):
    contact = keep_contact(cast.member_a, cast.coach, email=ADDRESS, language="en", consented=True, now=NOW)
    return write_letter(contact, cast.assistant, now=NOW)


@pytest.fixture
def folder(settings, tmp_path):
    settings.EMAIL_BACKEND = FILES
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")
    return tmp_path / "mail"


def test_without_a_mail_server_it_lies_in_a_folder_and_the_coach_is_told(cast, letter, folder, settings):
    settings.HELMROOM_ADDRESS = "http://127.0.0.1:8000"
    assert send_letter(letter.pk, now=NOW) == "sent"
    (file,) = folder.iterdir()
    assert ADDRESS in file.read_text() and len(what_mail_lacks()) == 2
    page = page_of(cast.as_coach.get(reverse("family_member", args=[cast.member_a.pk])))
    assert "E-mails do not leave this computer yet." in page and "which only this computer can open" in page


def test_twenty_e_mails_of_one_moment_are_twenty_files(folder):
    for number in range(20):
        send_mail("Tide", f"Letter {number}", None, [ADDRESS])
    assert len(list(folder.iterdir())) == 20, "so that one child's goes without another's"


@pytest.mark.parametrize("language", ["es", "de"])
def test_what_mail_lacks_is_said_in_the_coachs_language(folder, settings, language):
    settings.HELMROOM_ADDRESS = "http://127.0.0.1:8000"
    english = what_mail_lacks()
    with override(language):
        said = what_mail_lacks()
    assert len(said) == 2 and not set(said) & set(english) and "http://127.0.0.1:8000" in said[1]


def test_with_one_and_an_address_of_its_own_nothing_is_lacking(settings):
    settings.HELMROOM_ADDRESS = "https://club.example"
    assert what_mail_lacks() == []


def test_erasing_takes_the_childs_mail_out_of_the_folder_and_leaves_others(cast, letter, folder):
    other = keep_contact(cast.member_b, cast.coach, email="dunlin@example.org", language="en", consented=True, now=NOW)
    send_letter(letter.pk, now=NOW)
    send_letter(write_letter(other, cast.coach, now=NOW).pk, now=NOW)
    erase_child(cast.member_a, cast.coach, now=NOW)
    (left,) = folder.iterdir()
    assert "dunlin@example.org" in left.read_text()
    assert take_mail_to([""]) == 0 and take_mail_to(["DUNLIN@example.org"]) == 1 and list(folder.iterdir()) == []


def test_mail_of_a_month_ago_goes(letter, folder):
    assert take_old_mail(NOW) == 0
    send_letter(letter.pk, now=NOW)
    (file,) = folder.iterdir()
    made = dt.datetime.fromtimestamp(file.stat().st_mtime, dt.UTC)
    assert take_old_mail(made + dt.timedelta(days=29)) == 0 and take_old_mail(made + dt.timedelta(days=31)) == 1
