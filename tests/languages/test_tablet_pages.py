"""Every page of a team's tablet in Spanish and German: whole sentences, and no word of English anywhere on it."""

from __future__ import annotations

import datetime as dt
import html
import random
import re
from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.utils import timezone

from classroom.access import TeamSeat
from classroom.models import Club, TabletSession
from classroom.robots.services.calibrate import record_calibration
from missions.models import MissionVersion, RotaTurn, Tier, TierVersion
from planning.models import Course
from planning.team.draft import DraftStep, TeamDraft, first_start
from planning.team.services.keep_draft import keep_draft
from tests import factories as make
from tests.languages.reading import read
from tests.pages import page_of
from tests.planning.team.test_course import CLEAR, draft_json
from tests.planning.team.test_survey import bank_moved, sheet

NOW = make.NOW
pytestmark = pytest.mark.django_db
#: Neither Spanish nor German has them; the club's own words in this world have none of them either.
ENGLISH = re.compile(
    r"\b(the|of|and|is|it|its|your|you|this|that|with|what|where|not|no one|from|then|runs?|turns?|steps?|course|table"
    r"|team|measure|yet|look|left|right|too|short|more|each|by|at|drive|push|type|nothing|corner|edge|be|are)\b",
    re.IGNORECASE,
)
#: German has these as well.
GERMAN_TOO = {"is", "team", "am", "type"}


@pytest.fixture(params=["es", "de"])
def code(request: Any) -> Any:
    return request.param


@pytest.fixture
def world(cast: Any, code: str) -> Iterator[Any]:
    """A team in the middle of things; what its club wrote is in no language that is looked for."""
    with time_machine.travel(NOW + dt.timedelta(hours=1), tick=False):
        yield _world(cast, code)


def _world(cast: Any, code: str) -> Any:
    Club.objects.filter(pk=cast.club.pk).update(locale=code, name="Klub", measures_by_camera=True)
    cast.club.refresh_from_db()
    cast.team_a.name = "Ostra"
    cast.team_a.save()
    words = {"name": "porta"}
    criteria = [{"key": each["key"], "words": f"Kriterium {i}"} for i, each in enumerate(make.CRITERIA)]
    mission, editions = make.mission_with_tiers(
        cast.club, title="Mar", summary="Porta", brief="Porta.", target=make.GATE | words
    )
    mission.title = "Mar"
    mission.save()
    for i, each in enumerate(editions):
        bank = [{**make.GRAVEL_BANK, "name": "banka"}] if each.obstacles else []
        TierVersion.objects.filter(pk=each.pk).update(criteria=criteria, name=f"Nivo {i}", obstacles=bank)
        Tier.objects.filter(pk=each.tier_id).update(name=f"Nivo {i}")
    MissionVersion.objects.filter(mission=mission).update(target=make.GATE | words)
    tier = Tier.objects.get(pk=editions[1].tier_id)
    edition = TierVersion.objects.select_related("version", "tier").get(pk=editions[1].pk)
    make.ProgressFactory(team=cast.team_a, tier=tier)
    make.ProgressFactory(team=cast.team_a, tier_id=editions[0].tier_id, state="passed")
    session = make.SessionFactory(term=make.TermFactory(club=cast.club), starts_at=NOW)
    make.MembershipFactory(team=cast.team_a, member__nickname="Nadia")
    table = make.TableFactory(club=cast.club, name="Stol")
    RotaTurn.objects.create(session=session, team=cast.team_a, table=table, tier=tier, slot=1)
    measured = [{"commanded_mm": 1000, "measured_mm": 1003 + more} for more in (1, 2, 1, 0)]
    record_calibration(cast.robot_a, "straight", "Stol", measured, by_team=cast.team_a, now=NOW - dt.timedelta(days=1))
    seat = TeamSeat(cast.team_a, TabletSession.objects.get(team=cast.team_a))
    plans = []
    for steps in (CLEAR[:3], CLEAR):
        draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in steps))
        base = plans[-1].number if plans else 0
        plans.append(keep_draft(seat, edition, cast.robot_a, draft, base=base, now=timezone.now()))
    return {"tier": tier, "plans": plans, "seat": seat, "edition": edition}


def runs_of(plan: Course, misses: list[tuple[float, float]], **more: Any) -> Any:
    for i, (lateral, along) in enumerate(misses):
        last = make.AttemptFactory(
            team=plan.team,
            tier_version=plan.tier_version,
            robot=plan.robot,
            plan_number=plan.number,
            success=False,
            lateral_mm=lateral,
            along_mm=along,
            made_at=NOW + dt.timedelta(minutes=i),
            duration_s=31.5,
            **more,
        )
    return last


def spoken(response: Any) -> str:
    """What a page says, with what is read aloud and what stands in fields."""
    page = page_of(response)
    aloud = re.findall(r'(?:aria-label|title|placeholder|alt)="([^"]*)"', page)
    return html.unescape(read(response) + " " + " ".join(aloud))


def english_in(text: str, code: str) -> list[str]:
    return [
        text[max(0, found.start() - 40) : found.end() + 40]
        for found in ENGLISH.finditer(text)
        if not (code == "de" and found[0].lower() in GERMAN_TOO)
    ]


@pytest.fixture
def run(world: Any) -> Any:
    """The last of eight that miss alike, of which something was said before."""
    rng = random.Random(5)
    last = runs_of(world["plans"][1], [(rng.gauss(2, 3), rng.gauss(75, 5)) for _ in range(8)])
    last.said_before = {"works": True, "lateral_mm": 10, "along_mm": -5, "duration_s": 30.5}
    last.save()
    return last


#: What each page says among all else.
SAYS = {
    "/team/mission/": {
        "es": ["¿Y ahora qué?", "Abierto, estáis aquí", "Quién hace qué", "Desde el borde izquierdo", "Cuenta cuando"],
        "de": ["Was jetzt?", "Offen, hier seid ihr", "Wer macht was", "Vom linken Rand", "Es zählt, wenn"],
    },
    "/team/course/": {
        "es": ["Guardar como plan 3", "Vuestros planes", "El cuerpo no toca nada, ni a la ida ni a la vuelta."],
        "de": ["Als Plan 3 speichern", "Eure Pläne", "Der Körper berührt nichts, weder hin noch zurück."],
    },
    "/team/course/{short}/": {
        "es": ["Plan 1", "El plan 1 está sin terminar: aún no hace su tarea.", "Una pista: ¿qué falta?"],
        "de": ["Plan 1", "Plan 1 ist nicht fertig: Er schafft seine Aufgabe noch nicht.", "Ein Tipp: Was fehlt?"],
    },
    "/team/course/{whole}/": {
        "es": ["Girar 45° a la izquierda", "recorridos simulados.", "Ensayo", "a menos de"],
        "de": ["45° nach links drehen", "Aus 131.072 gespielten Fahrten.", "Probelauf", "Neun von zehn Fahrten"],
    },
    "/team/course/compare/?a={short}&b={whole}": {
        "es": ["El plan 2 va libre, el plan 1 no.", "El plan 1 tiene 3 pasos, el plan 2 tiene 10."],
        "de": ["Plan 2 ist frei, Plan 1 nicht.", "Plan 1 hat 3 Schritte, Plan 2 hat 10."],
    },
    "/team/log/": {"es": ["¿Qué pasó?"], "de": ["Was ist passiert?"]},
    "/team/log/{run}/": {
        "es": [
            "Dijisteis que saldría bien. Aún no ha salido.",
            "Vosotros: 1 cm a la izquierda, 0,5 cm corto",
            "Tiempo 31,5 s.",
        ],
        "de": [
            "Ihr habt gesagt, es klappt. Noch hat es nicht geklappt.",
            "Ihr: 1 cm links, 0,5 cm zu kurz",
            "Zeit 31,5 s.",
        ],
    },
    "/team/log/{run}/change/": {"es": ["Corregir este recorrido"], "de": ["Diese Fahrt berichtigen"]},
    "/team/survey/": {"es": ["banka, esquina lejana derecha"], "de": ["banka, ferne rechte Ecke"]},
    "/team/picture/": {"es": ["Comprobar la mesa con una foto"], "de": ["Den Tisch mit einem Foto prüfen"]},
    "/team/picture/stopped/": {"es": ["¿Dónde se paró Kit 1?"], "de": ["Wo hat Kit 1 angehalten?"]},
    "/team/picture/robot/straight/": {"es": ["Medir esta foto"], "de": ["Dieses Foto ausmessen"]},
    "/team/picture/robot/set_down/": {"es": ["Primera foto"], "de": ["Erstes Foto"]},
    "/team/robot/": {
        "es": ["Lo que sabemos de él", "Medido ayer"],
        "de": ["Was wir über ihn wissen", "Gemessen gestern"],
    },
    "/team/robot/straight/": {"es": ["Cómo medir"], "de": ["So wird gemessen"]},
    "/team/robot/square/": {"es": ["Más filas"], "de": ["Mehr Zeilen"]},
    "/team/robot/outline/": {"es": ["Guardar este contorno"], "de": ["Diesen Umriss speichern"]},
    "/team/news/": {"es": [], "de": []},
    "/team/leave/": {"es": ["¿Salir del equipo Ostra?"], "de": ["Team Ostra abmelden?"]},
}


def test_each_page_says_all_of_it_in_the_tablets_language(cast: Any, code: str, world: Any, run: Any) -> None:
    short, whole = (plan.pk for plan in world["plans"])
    left, missing = {}, {}
    for path, says in SAYS.items():
        page = cast.as_team_a.get(path.format(short=short, whole=whole, run=run.uuid))
        assert page.status_code == 200, path
        text = spoken(page)
        left |= {path: found} if (found := english_in(text, code)) else {}
        missing |= {path: found} if (found := [words for words in says[code] if words not in text]) else {}
    assert (left, missing) == ({}, {})


def test_what_a_page_answers_is_in_its_language_too(cast: Any, code: str, world: Any, run: Any) -> None:
    """Parts that are swapped in, sheets that are refused, drafts that touch, a rehearsal's words."""
    post, tier = cast.as_team_a.post, world["tier"].pk
    part = {"headers": {"X-Part": "yes"}}
    away = [*bank_moved(40, -20), ("1:2", "right", "80")]
    answers = [
        (
            post("/team/survey/", sheet(bank_moved(40, -20))),
            {"es": "banka, comparado con la misión: 4 cm a la derecha"},
        ),
        (post("/team/survey/", sheet(away, do="keep")), {"de": "Trotzdem speichern"}),
        (post("/team/survey/", sheet([("1:0", "left", "x")])), {"es": "Hay que revisar algunas líneas."}),
        (
            post("/team/course/", {"draft": draft_json([("drive", 230)]), "tier": tier}, **part),
            {"es": "El cuerpo toca: el borde derecho.", "de": "Der Körper berührt:"},
        ),
        (
            post("/team/course/", {"draft": draft_json(CLEAR[:1]), "tier": tier}, **part),
            {"es": "Una pista: ¿qué falta?"},
        ),
        (post("/team/course/", {"draft": "x", "tier": tier}, **part), {"de": "Dieser Entwurf lässt sich nicht lesen."}),
        (post("/team/log/", {"tier": tier, "uuid": "no", "duration": "soon"}), {}),
        (post(f"/team/log/{run.uuid}/numbers/", follow=True), {"es": "los números de la tableta en"}),
        (post(f"/team/log/{run.uuid}/withdraw/", follow=True), {"de": "Diese Fahrt ist zurückgenommen"}),
        (post("/team/jobs/", {"tier": tier, "job": "drive"}, follow=True), {}),
        (post("/team/changed/", {"tier": tier, "part": "tyres"}, follow=True), {"es": "Está bien saberlo."}),
        (post("/team/robot/straight/", {"do": "try", "rows": "2", "run-0-commanded": "100"}, **part), {}),
    ]
    left, missing = {}, []
    for number, (answer, says) in enumerate(answers):
        assert answer.status_code in (200, 422), number
        text = spoken(answer)
        left |= {number: found} if (found := english_in(text, code)) else {}
        missing += [(number, says[code])] if code in says and says[code] not in text else []
    record = cast.as_team_a.get(f"/team/course/{world['plans'][1].pk}/rehearsal/").json()
    words = [step["words"] for step in record["steps"]] + [line["words"] for line in record["tally"]]
    assert len(words) > 10
    assert (left, missing, english_in(" ".join(words), code)) == ({}, [], [])


def test_a_word_of_english_is_seen() -> None:
    assert english_in("Plan 2 is clear, plan 1 is not.", "es") and english_in("Measure the table", "de")
    assert english_in("Das Team ist am Ziel.", "de") == english_in("El equipo no está en la mesa.", "es") == []
