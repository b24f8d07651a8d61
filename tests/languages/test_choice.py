"""Who reads in which language: a guardian's choice, else the coach's for them, else the club's; a stranger's browser's."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.core import mail
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import translation

from classroom.families.letters import send_letter, write_letter
from classroom.families.share_summary import (
    approved_words,
    choose_language,
    keep_contact,
    make_link,
    new_seed,
    set_family_language,
    token_of,
    write_words,
)
from classroom.models import Club, Coach, SummaryLink
from classroom.site.languages import known_language, language_of_coach, language_of_link
from missions.family import sentences
from missions.family.drafts import LONGEST, draft_team
from missions.family.pages import summary_for
from missions.models import Cause
from tests import factories as make
from tests.languages.reading import read
from tests.pages import page_of

NOW = make.NOW
DAY = dt.timedelta(days=1)


@pytest.fixture(autouse=True)
def at_now():
    with time_machine.travel(NOW, tick=False):
        yield


def guardian_reads(cast, **changed):
    cast.member_a.__class__.objects.filter(pk=cast.member_a.pk).update(**changed)
    return cast.as_guardian_a.get("/family/")


@pytest.mark.parametrize(
    ("typed", "meant"), [("en", "en-gb"), ("es-MX", "es"), ("de-AT", "de"), ("cy", ""), ("", ""), ("../", "")]
)
def test_a_language_is_one_of_ours_or_none(typed, meant):
    assert known_language(typed) == meant


def test_a_family_reads_in_the_clubs_language_until_the_coach_sets_theirs(cast):
    assert "Robin's term so far" in read(guardian_reads(cast)).replace("&#x27;", "'")
    Club.objects.filter(pk=cast.club.pk).update(locale="de")
    page = guardian_reads(cast)
    assert "So läuft der Kurs für Robin" in read(page)
    assert '<html lang="de" dir="ltr">' in page_of(page) and page.headers["Content-Language"] == "de"
    assert page.headers["Cache-Control"] == "no-store, private"
    assert "Cómo le va a Robin este trimestre" in read(guardian_reads(cast, family_language="es"))


def test_a_coach_sets_a_familys_language_on_its_page(cast):
    cast.as_coach.post(reverse("family_reads", args=[cast.member_a.pk]), {"language": "es"})
    cast.member_a.refresh_from_db()
    assert cast.member_a.family_language == "es"
    cast.as_coach.post(reverse("family_reads", args=[cast.member_a.pk]), {"language": "tlh"})
    cast.member_a.refresh_from_db()
    assert cast.member_a.family_language == "es"
    set_family_language(cast.member_a, cast.coach, "", now=NOW)
    assert cast.member_a.family_language == ""


def test_a_coach_reads_in_the_clubs_language_until_they_choose_their_own(cast):
    page = cast.as_observer.get(reverse("club_settings"))
    assert '<html lang="en-gb"' in page_of(page) and "English (the club" in read(page)
    Club.objects.filter(pk=cast.club.pk).update(locale="de")
    page = cast.as_observer.get(reverse("club_settings"), headers={"accept-language": "es"})
    assert '<html lang="de"' in page_of(page) and "Sprache behalten" in read(page)
    answer = cast.as_observer.post(reverse("own_language"), {"language": "es"}, follow=True)
    assert '<html lang="es"' in page_of(answer) and "Desde ahora sus páginas están en Español." in read(answer)
    assert '<html lang="de"' in page_of(cast.as_coach.get(reverse("club_settings")))
    cast.as_observer.post(reverse("own_language"), {"language": "tlh"})
    assert '<html lang="es"' in page_of(cast.as_observer.get(reverse("teams")))
    cast.as_observer.post(reverse("own_language"), {"language": ""})
    assert '<html lang="de"' in page_of(cast.as_observer.get(reverse("teams")))


def test_a_coachs_choice_holds_in_all_their_clubs(cast):
    make.CoachFactory(user=cast.observer.user, club=make.ClubFactory(locale="de"))
    cast.as_observer.post(reverse("own_language"), {"language": "es"})
    assert [language_of_coach(role) for role in Coach.objects.filter(user=cast.observer.user)] == ["es", "es"]


def test_a_guardian_changes_the_language_on_the_page_and_it_stays_for_this_link_alone(cast):
    guardian_reads(cast, family_language="es")
    answer = cast.as_guardian_a.post(reverse("family_language"), {"language": "de"})
    assert answer.url == "/family/" and "So läuft der Kurs" in read(cast.as_guardian_a.get("/family/"))
    assert sorted(SummaryLink.objects.values_list("language", flat=True))[-1] == "de"
    other, _ = make_link(cast.member_a, cast.coach, now=NOW)
    other.member.refresh_from_db()
    assert language_of_link(other) == "es"
    cast.as_guardian_a.post(reverse("family_language"), {"language": "tlh"})
    assert "So läuft der Kurs" in read(cast.as_guardian_a.get("/family/"))


def test_a_guardians_choice_goes_for_their_e_mails_too(cast):
    contact = keep_contact(cast.member_a, cast.coach, email="w@example.org", language="es", consented=True, now=NOW)
    link, _ = make_link(cast.member_a, cast.coach, contact=contact, now=NOW)
    assert language_of_link(link) == "es"
    choose_language(link, "de")
    send_letter(write_letter(contact, cast.coach, now=NOW).pk, now=NOW)
    (letter,) = mail.outbox
    assert letter.subject.endswith(": eine Zusammenfassung für Ihre Familie")
    assert "Sie bekommen diese E-Mail, weil Sie zugestimmt haben." in letter.body
    assert re.search(r"bis zum \d+\. \w+ 20\d\d:", letter.body) and "Robin" not in letter.body


def test_an_e_mail_in_spanish_says_its_day_as_spanish_does(cast):
    contact = keep_contact(cast.member_a, cast.coach, email="w@example.org", language="es", consented=True, now=NOW)
    send_letter(write_letter(contact, cast.coach, now=NOW).pk, now=NOW)
    assert re.search(r"lo abre hasta el \d+ de \w+ de 20\d\d:", mail.outbox[0].body)


@pytest.mark.parametrize(
    ("accepts", "address", "says"),
    [
        ("", "", "A summary for a family"),
        ("fr", "", "A summary for a family"),
        ("es-MX,es;q=0.9", "", "Un resumen para una familia"),
        ("es", "?in=de", "Eine Zusammenfassung für eine Familie"),
        ("es", "?in=tlh", "Un resumen para una familia"),
    ],
)
def test_the_door_speaks_the_browsers_language_or_the_one_that_was_pressed(client, db, accepts, address, says):
    page = client.get(f"/family/{'a' * 43}/{address}", headers={"accept-language": accepts})
    assert says in page_of(page) and "Accept-Language" in page.headers["Vary"]


def test_the_door_says_the_same_of_every_address(cast, client):
    set_family_language(cast.member_a, cast.coach, "es", now=NOW)
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    said = [read(client.get(f"/family/{address}/")) for address in (token, "a" * 43)]
    assert said[0] == said[1] and "A summary for a family" in said[0]


def test_what_was_pressed_at_the_door_holds_behind_it(cast, client):
    _, token = make_link(cast.member_a, cast.coach, now=NOW)
    door = page_of(client.get(f"/family/{token}/?in=es"))
    assert '<input type="hidden" name="language" value="es">' in door
    client.post(f"/family/{token}/?in=es", {"language": "es"})
    assert "Cómo le va a Robin" in read(client.get("/family/"))


@pytest.mark.parametrize(
    ("code", "says"), [("es", "Ahora no hay nada que ver aquí"), ("de", "Hier gibt es gerade nichts zu sehen")]
)
def test_a_link_that_is_over_says_so_in_the_readers_language(client, db, code, says):
    assert says in page_of(client.post(f"/family/{'a' * 43}/", headers={"accept-language": code}))
    assert says in page_of(client.get("/family/", headers={"accept-language": code}))


@pytest.mark.parametrize(("code", "says"), [("es", "¿No más correos?"), ("de", "Keine E-Mails mehr?")])
def test_the_way_to_no_more_e_mail_too(client, db, code, says):
    assert says in page_of(client.get(f"/family/no-mail/{'a' * 43}/", headers={"accept-language": code}))


@pytest.mark.parametrize(("code", "says"), [("es", "Aquí no hay nada"), ("de", "Hier ist nichts")])
def test_an_error_page_too(client, db, code, says):
    page = client.get("/nowhere/", headers={"accept-language": code})
    assert says in page_of(page) and f'<html lang="{code}"' in page_of(page)


def test_the_privacy_page_and_the_childrens_speak_the_askers_language(cast):
    guardian_reads(cast, family_language="de")
    long, short = (read(cast.as_guardian_a.get(path)) for path in ("/privacy/", "/privacy/children/"))
    assert "Was aufbewahrt wird" in long and "Vorname oder Spitzname" in long and "Von einem Kind" in long
    assert "Was der Club über mich weiß" in short and "Niemand wird böse sein." in short
    assert "What" not in long + short


def two_families(cast):
    """Two children of one team whose families read German and Spanish; a tier passed, one open, a cause named."""
    other = make.MembershipFactory(team=cast.team_a, member__nickname="Dipper").member
    set_family_language(cast.member_a, cast.coach, "de", now=NOW)
    set_family_language(other, cast.coach, "es", now=NOW)
    _, (plain, obstacle, _timed) = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=plain.tier, state="passed", passed_at=NOW - DAY)
    make.ProgressFactory(team=cast.team_a, tier=obstacle.tier, state="working")
    cast.team_a.memberships.update(joined_on=(NOW - 40 * DAY).date())
    make.AttemptFactory(
        team=cast.team_a, tier_version=obstacle, success=False, cause=Cause.WHEEL_SLIP, made_at=NOW - DAY
    )
    return other, plain.tier.mission


def test_each_child_of_a_team_has_its_draft_in_its_familys_language(cast):
    other, mission = two_families(cast)
    drafts = draft_team(cast.team_a, now=NOW)
    german, spanish = drafts[cast.member_a.pk], drafts[other.pk]
    assert (german.language, spanish.language) == ("de", "es")
    assert (
        german.learnt
        == f"Eine Route für {mission.title} planen, auf der der Roboter hinausfährt, die Aufgabe erledigt und zurückkommt."
    )
    assert (
        spanish.working_on
        == f"{mission.title}: encontrar un camino alrededor de un obstáculo; ahora mismo, con ruedas que patinan."
    )
    assert german.ask_at_home == "Warum rutscht ein Rad, und was habt ihr dagegen probiert?"


def test_a_draft_for_another_language_asks_the_database_no_more(cast, django_assert_max_num_queries):
    two_families(cast)
    with django_assert_max_num_queries(6):
        draft_team(cast.team_a, now=NOW)


@pytest.mark.parametrize("code", ["en-gb", "es", "de"])
def test_every_sentence_of_a_draft_fits_its_field_with_the_longest_title(cast, code):
    title = "M" * 60
    with translation.override(code):
        kinds = list(sentences.TierKind)
        made = [sentences.passed_sentence(title, kind) for kind in kinds]
        made += [
            line for kind in kinds for line in sentences.working_sentences([(title, kind)], list(sentences.TOLD_CAUSES))
        ]
        made += [line for kind in kinds for line in sentences.working_sentences([(title, kind)], [])]
        made += sentences.questions([(title, sentences.TierKind.TIMED)], list(sentences.TOLD_CAUSES))
        made += [sentences.measured_sentence(kind) for kind in sentences.MEASURED_KINDS]
        made += [sentences.own_job_sentence(job, 24) for job in ("drive", "type", "measure", "log")]
        made += [sentences.own_job_question(job) for job in ("drive", "type", "measure", "log")]
    assert [line for line in made if len(line) > LONGEST] == []


def test_words_stay_in_the_language_in_which_they_were_approved_and_the_page_says_so(cast):
    words = {"learnt": "Tape.", "working_on": "Turns.", "ask_at_home": "Why?"}
    write_words(cast.member_a, cast.coach, approve=True, language="en-gb", now=NOW, **words)
    page = guardian_reads(cast, family_language="de")
    assert "Die Worte des Coaches stehen in der Sprache, in der sie freigegeben wurden: English." in read(page)
    assert '<dd lang="en-gb" dir="auto">Tape.</dd>' in page_of(page)
    cast.member_a.refresh_from_db()
    write_words(cast.member_a, cast.coach, approve=True, now=NOW + DAY, **words)
    assert approved_words(cast.member_a).language == "de"


def test_the_coach_sees_what_the_family_sees_with_a_way_back_in_their_own_language(cast):
    set_family_language(cast.member_a, cast.coach, "es", now=NOW)
    page = page_of(cast.as_coach.get(reverse("family_preview", args=[cast.member_a.pk])))
    assert "Cómo le va a Robin" in page and "This is what the family sees." in page and "Back to Robin" in page


def test_each_slip_speaks_its_own_familys_language(cast):
    set_family_language(cast.member_a, cast.coach, "de", now=NOW)
    cast.as_coach.post(reverse("family_slips"), {"who": "all"})
    page = read(cast.as_coach.get(reverse("family_slips_made")))
    assert "Wie der Kurs läuft, für die Familie von Robin." in page


def test_numbers_and_days_are_written_as_the_language_does_and_drawings_as_programs_do(cast):
    _, tiers = make.mission_with_tiers(cast.club)
    progress = make.ProgressFactory(team=cast.team_a, tier=tiers[1].tier, state="working")
    for week in (3, 1):
        for n, miss in enumerate((41, 52, 63)):
            make.AttemptFactory(
                team=cast.team_a, tier_version=tiers[1], robot=cast.robot_a, plan_number=1, lateral_mm=miss, along_mm=0,
                made_at=NOW - dt.timedelta(weeks=week, minutes=n),
            )  # fmt: skip
    assert progress.state == "working"
    with translation.override("de"):
        mark = summary_for(cast.member_a, now=NOW).picture.marks[0]
    assert re.search(r"\d+\. \w+: \d+,\d cm aus 3 gemessenen Fahrten", mark.words)
    page = page_of(guardian_reads(cast, family_language="de"))
    drawn = re.findall(r'(?:cx|cy|x1|y1|points)="([^"]*)"', page)
    assert drawn and all(re.fullmatch(r"[-\d. ,]+", value) for value in drawn)
    assert not any(re.fullmatch(r"\d+,\d+", value) for value in drawn)


def test_a_name_from_right_to_left_leaves_the_sentence_around_it_alone(cast):
    page = page_of(guardian_reads(cast, nickname="נעמי"))
    assert "\u2068נעמי\u2069 is in team" in re.sub(r"\s+", " ", page)


def test_the_familys_page_costs_the_same_in_every_language(cast):
    counts = []
    for code in ("en-gb", "es", "de"):
        cast.member_a.__class__.objects.filter(pk=cast.member_a.pk).update(family_language=code)
        with CaptureQueriesContext(connection) as asked:
            cast.as_guardian_a.get("/family/")
        counts.append(len(asked))
    assert len(set(counts)) == 1


def test_a_token_of_a_slip_says_nothing_of_a_language(cast):
    seed = new_seed()
    before = token_of(seed, cast.member_a)
    set_family_language(cast.member_a, cast.coach, "es", now=NOW)
    assert token_of(seed, cast.member_a) == before
