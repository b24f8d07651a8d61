"""The editor without a script: the plain form saves, steps, refuses, and tells of a clash."""

from __future__ import annotations

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from missions.editor.rules.first_document import first_document
from missions.editor.rules.sheet import sheet_of
from missions.ladder.mission_file import document_of, write_mission
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version, seen_mark
from missions.models import Mission, MissionVersion
from tests import factories as make
from tests.missions.editor.test_sheet import as_sent
from tests.pages import page_of


@pytest.fixture
def mission(cast):
    return make.mission_with_tiers(cast.club)[0]


def form_of(mission, **changes):
    version = newest_version(mission)
    ids = list(version.tier_versions.order_by("order").values_list("tier_id", flat=True))
    sheet = sheet_of(document_of(version, typical_nose(mission.club)), mission.club.unit, ids)
    return as_sent(sheet, **{"seen": seen_mark(version), **changes})


def send(client, mission, post, **headers):
    return client.post(
        reverse("mission_edit", args=[mission.pk]),
        post.urlencode(),
        content_type="application/x-www-form-urlencoded",
        headers=headers,
    )


HX = {"HX-Request": "true"}


def test_a_new_mission_leads_to_its_editor(cast) -> None:
    table = make.TableFactory(club=cast.club, width_mm=3000, depth_mm=1500)
    response = cast.as_coach.post(
        reverse("mission_new"), {"title": "Fog bell", "table": table.pk, "width": "", "depth": ""}
    )
    mission = Mission.objects.get(club=cast.club)
    assert response.url == reverse("mission_edit", args=[mission.pk])
    assert newest_version(mission).width_mm == 3000


def test_another_size_may_be_given_in_any_unit(cast) -> None:
    cast.as_coach.post(reverse("mission_new"), {"title": "Fog bell", "table": "", "width": "8 ft", "depth": "48 in"})
    version = newest_version(Mission.objects.get(club=cast.club))
    assert (version.width_mm, version.depth_mm) == (2438.4, 1219.2)


@pytest.mark.parametrize(
    "data",
    [
        {"title": "", "width": "2 m", "depth": "1 m"},
        {"title": "Fog bell"},
        {"title": "Fog bell", "width": "NaN", "depth": "1 m"},
        {"title": "Fog bell", "width": "1 mm", "depth": "1 m"},
        {"title": "Fog bell", "width": "90 m", "depth": "1 m"},
        {"title": "x" * 61, "width": "2 m", "depth": "1 m"},
    ],
)
def test_a_new_mission_that_makes_no_sense_is_asked_again(cast, data: dict) -> None:
    response = cast.as_coach.post(reverse("mission_new"), data)
    assert response.status_code == 200
    assert not Mission.objects.filter(club=cast.club).exists()


def test_a_table_of_another_club_cannot_be_chosen(cast) -> None:
    other = make.TableFactory()
    response = cast.as_coach.post(reverse("mission_new"), {"title": "Fog bell", "table": other.pk})
    assert response.status_code == 200
    assert not Mission.objects.filter(club=cast.club).exists()


def test_the_plain_form_saves_a_draft(cast, mission) -> None:
    response = send(cast.as_coach, mission, form_of(mission, summary="Ring it", do="save"))
    assert response.status_code == 302
    draft = newest_version(mission)
    assert (draft.number, draft.summary, draft.edited_by) == (2, "Ring it", cast.coach)


def test_a_step_changes_the_form_and_saves_nothing(cast, mission) -> None:
    response = send(cast.as_coach, mission, form_of(mission, do="add-shape obstacle t1", summary="unsaved words"))
    page = page_of(response)
    assert "Obstacle added in the middle of the table" in page
    assert "unsaved words" in page
    assert "Not saved yet" in page
    assert mission.versions.count() == 1


def test_a_box_that_cannot_be_read_keeps_what_was_typed(cast, mission) -> None:
    response = send(cast.as_coach, mission, form_of(mission, push="a nudge", summary="kept"))
    page = page_of(response)
    assert response.status_code == 422
    assert 'value="a nudge" autocomplete="off" aria-invalid="true"' in page
    assert "The push: “a nudge” is not a length" in page
    assert "kept" in page
    assert mission.versions.count() == 1


def test_the_second_coach_gets_a_comparison_and_may_then_save_over_it(cast, mission) -> None:
    mine = form_of(mission, summary="Mine")
    send(cast.as_assistant, mission, form_of(mission, summary="Theirs", width="250"))
    response = send(cast.as_coach, mission, mine)
    page = page_of(response)
    assert response.status_code == 409
    assert "Somebody else was quicker" in page
    assert "<td>Mine</td> <td>Theirs</td>" in page
    assert "<td>240 cm by 120 cm</td> <td>250 cm by 120 cm</td>" in page
    assert 'value="Mine"' in page  # the form still holds it
    assert newest_version(mission).summary == "Theirs"
    mine["over"] = seen_mark(newest_version(mission))
    assert send(cast.as_coach, mission, mine).status_code == 302
    assert newest_version(mission).summary == "Mine"
    assert mission.versions.count() == 2


def test_a_third_save_between_is_told_of_too(cast, mission) -> None:
    mine = form_of(mission, summary="Mine")
    send(cast.as_assistant, mission, form_of(mission, summary="Theirs"))
    over = seen_mark(newest_version(mission))
    send(cast.as_assistant, mission, form_of(mission, summary="Theirs again"))
    mine["over"] = over
    assert send(cast.as_coach, mission, mine).status_code == 409
    assert newest_version(mission).summary == "Theirs again"


def test_a_fragment_brings_the_new_mark_and_the_tiers_keys(cast, mission) -> None:
    post = form_of(mission, do="save")
    response = send(cast.as_coach, mission, post, **HX)
    page = page_of(response)
    assert "<html" not in page
    assert seen_mark(newest_version(mission)).replace("+", "&#43;")[:20] in page
    for tier in mission.tiers.all():
        assert f'value="{tier.pk}"' in page


def test_extra_fields_change_nothing(cast, mission) -> None:
    other = make.ClubFactory()
    post = form_of(mission, club=str(other.pk), number="77", published_at="2020-01-01", archived_at="2020-01-01")
    send(cast.as_coach, mission, post)
    mission.refresh_from_db()
    draft = newest_version(mission)
    assert (mission.club, mission.archived_at, draft.number, draft.published_at) == (cast.club, None, 2, None)


def test_the_check_saves_nothing_and_shows_the_brief_without_its_scripts(cast, mission) -> None:
    post = form_of(mission, brief="**Mind** <script>alert(1)</script> [x](javascript:alert(1))", start_x="50")
    url = reverse("mission_check", args=[mission.pk])
    page = page_of(cast.as_coach.post(url, post.urlencode(), content_type="application/x-www-form-urlencoded"))
    assert "<strong>Mind</strong>" in page
    assert "<script" not in page and "javascript:" not in page.replace("(javascript:alert(1))", "")
    assert "does not stand wholly inside the base" in page
    assert mission.versions.count() == 1


def test_a_title_with_markup_is_shown_as_text(cast, mission) -> None:
    send(cast.as_coach, mission, form_of(mission, title="<img src=x onerror=alert(1)>"))
    page = page_of(cast.as_coach.get(reverse("mission_edit", args=[mission.pk])))
    assert "<img" not in page


@pytest.mark.parametrize("url", ["mission_edit", "mission_new"])
def test_nothing_is_inline(cast, mission, url: str) -> None:
    import re

    page = page_of(cast.as_coach.get(reverse(url, args=[mission.pk] if url == "mission_edit" else [])))
    assert not re.search(r"\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)|<style", page)


def test_an_exported_mission_is_read_in_again_as_a_draft(cast, mission) -> None:
    file = cast.as_coach.get(reverse("mission_export", args=[mission.pk]))
    assert file["Content-Disposition"].startswith('attachment; filename="tide-gate')
    document = json.loads(file.content)
    assert document["format"] == "helmroom.mission/1"
    upload = SimpleUploadedFile("../../evil.json", file.content.replace(b'"Tide gate', b'"Fog bell'))
    response = cast.as_coach.post(reverse("mission_import"), {"file": upload})
    copy = Mission.objects.exclude(pk=mission.pk).get(club=cast.club)
    assert response.url == reverse("mission_edit", args=[copy.pk])
    assert newest_version(copy).published_at is None
    assert document_of(newest_version(copy), typical_nose(cast.club)) | {"title": ""} == document | {"title": ""}


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b'{"format": "helmroom.scene/1"}', b"\x00\xff", b"[" * 5000, b"x" * 1_100_000],
    ids=["empty", "cut", "other", "binary", "deep", "huge"],
)
def test_a_bad_file_is_refused_with_words_and_makes_nothing(cast, data: bytes) -> None:
    response = cast.as_coach.post(reverse("mission_import"), {"file": SimpleUploadedFile("m.json", data)})
    assert response.status_code == 422
    assert b'class="errorlist"' in response.content
    assert not Mission.objects.filter(club=cast.club).exists()


def test_a_file_whose_title_is_taken_is_read_in_under_a_free_one_and_says_so(cast, mission) -> None:
    document = first_document(mission.title, 2400, 1200)
    response = cast.as_coach.post(reverse("mission_import"), {"text": write_mission(document).decode()}, follow=True)
    assert f"“{mission.title} (copy)” is read in as a draft" in page_of(response)
    assert "title is taken" in page_of(response)
    assert Mission.objects.filter(club=cast.club, title=mission.title).count() == 1


def test_the_editor_asks_few_questions_of_the_database(cast, mission, django_assert_max_num_queries) -> None:
    for tier in mission.tiers.all():
        make.AttemptFactory.create_batch(3, team=cast.team_a, tier_version=tier.versions.get())
    with django_assert_max_num_queries(15):
        cast.as_coach.get(reverse("mission_edit", args=[mission.pk]))
    assert MissionVersion.objects.count() == 1


def test_a_mission_is_taken_away_and_brought_back(cast, mission) -> None:
    make.AttemptFactory(team=cast.team_a, tier_version=mission.tiers.first().versions.get())
    cast.as_coach.post(reverse("mission_archive", args=[mission.pk]))
    mission.refresh_from_db()
    assert mission.archived_at is not None
    page = page_of(cast.as_coach.get(reverse("mission_edit", args=[mission.pk])))
    assert "Bring it back before you save" in page
    cast.as_coach.post(reverse("mission_restore", args=[mission.pk]))
    mission.refresh_from_db()
    assert mission.archived_at is None


@pytest.mark.parametrize("name", ["mission_copy", "mission_archive", "mission_restore", "mission_check"])
def test_looking_never_changes_anything(cast, mission, name: str) -> None:
    assert cast.as_coach.get(reverse(name, args=[mission.pk])).status_code == 405


def _rich(document: dict, obstacles: int) -> dict:
    """Three tiers with obstacles of 32 corners each."""
    import math

    turns = [i * math.pi / 16 for i in range(32)]
    ring = [[round(1200 + 40 * math.cos(t), 1), round(300 + 40 * math.sin(t), 1)] for t in turns]
    things = [{"name": f"buoy {n}", "outline": ring} for n in range(obstacles)]
    return document | {"tiers": [tier | {"obstacles": things} for tier in document["tiers"]]}


def test_a_mission_as_rich_as_may_be_is_saved_by_the_plain_form(cast) -> None:
    document = _rich(first_document("Fog bell", 2400, 1200), 20)  # 1,920 corners
    cast.as_coach.post(reverse("mission_import"), {"text": write_mission(document).decode()})
    mission = Mission.objects.get(club=cast.club)
    assert send(cast.as_coach, mission, form_of(mission, summary="saved")).status_code == 302
    assert newest_version(mission).summary == "saved"
    assert document_of(newest_version(mission), typical_nose(cast.club)) == document | {"summary": "saved"}


def test_a_richer_one_is_refused_with_words(cast) -> None:
    document = _rich(first_document("Fog bell", 2400, 1200), 21)
    response = cast.as_coach.post(reverse("mission_import"), {"text": write_mission(document).decode()})
    assert "2016 corners in all tiers; at most 2000" in page_of(response)
