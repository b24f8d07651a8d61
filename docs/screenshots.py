"""Contact sheets of every page: what there is to see, at three widths, light and dark.

    python -m docs.screenshots [DIR] [--minutes 25] [--only NAME ...]

One sheet a page and state: the demonstration club's; where a page needs nothing but a club, a club's that was just
opened; and the states of ``docs.page_states``. When the time is over it stops and names what it did not reach. A server of its own; nothing of yours is touched.
"""

from __future__ import annotations

import argparse
import io
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import django
from PIL import Image

from docs.page_states import STATES, State
from docs.pictures import FLAGS, ROOT, WIDTHS, Visitor, ask_for_course, chromium_path, running_site

#: Pixels of a sheet: each picture is that wide, and cut off below that height.
COLUMN, TALLEST, GAP = 420, 2400, 12
SECOND_STEP = "asks for a second step first, which no account of a new installation has"
PART = "a part that a page asks for, not a page"
FILE = "a file, not a page"
MACHINE = "read by machines"


@dataclass(frozen=True)
class Page:
    """Who sees it, the arguments of its address and what is asked of it, or the page that links to it."""

    who: str = "coach"
    kwargs: dict[str, Any] = field(default_factory=dict)
    linked_from: str = ""
    query: str = ""


def _of(pk: int = 1, who: str = "coach") -> Page:
    return Page(who, {"pk": pk})


#: Every page by the name of its address. In a fresh demonstration the first of everything has the key 1.
PAGES: dict[str, Page] = {
    # Everybody
    "team_sign_in": Page("nobody"),
    "team_sign_in_code": Page("nobody", {"code": "join_code"}),
    "team_open": Page("nobody"),
    "family_door": Page("nobody", {"token": "family_token"}),
    "account_login": Page("nobody"),
    "account_signup": Page("nobody"),
    "account_reset_password": Page("nobody"),
    "account_reset_password_done": Page("nobody"),
    "account_reset_password_from_key": Page("nobody", {"uidb36": "1", "key": "no-such-key"}),
    "account_reset_password_from_key_done": Page("nobody"),
    "account_inactive": Page("nobody"),
    "join": Page("nobody", {"token": "invitation"}),
    # A team
    "team_mission": Page("team"),
    "team_course": Page("team"),
    "team_compare": Page("team", query="?a=11&b=19"),
    "team_plan": Page("team", linked_from="team_course"),
    "team_survey": Page("team"),
    "team_picture": Page("team"),
    "team_stopped": Page("team"),
    "team_run_picture": Page("team", {"kind": "straight"}),
    "team_log": Page("team"),
    "team_run": Page("team", linked_from="team_log"),
    "team_run_change": Page("team", linked_from="team_run"),
    "team_robot": Page("team"),
    "team_robot_shape": Page("team"),
    "team_calibrate": Page("team", {"kind": "straight"}),
    "team_sign_out": Page("team"),
    # A guardian
    "family": Page("family"),
    # A coach
    "board": Page(),
    "board_mission": Page(kwargs={"mission_id": 1}),
    "projector": Page(kwargs={"mission_id": 1}),
    "evidence": Page(kwargs={"team_id": 2, "tier_id": 1}),
    "decide": Page(kwargs={"team_id": 2, "tier_id": 1, "verb": "hold"}),
    "withdraw_run": Page(kwargs={"attempt_id": 1}),
    "tier_bar": Page(kwargs={"tier_id": 1}),
    "club_bar": Page(),
    "today": Page(),
    "session": _of(),
    "session_wall": _of(),
    "rota": _of(),
    "session_plan": _of(),
    "session_edit": _of(),
    "session_after": _of(),
    "tables": Page(),
    "table": _of(),
    "term": Page(),
    "term_new": Page(),
    "term_end": Page(),
    "term_of": _of(),
    "term_edit": _of(),
    "term_progress": _of(),
    "forecasts": _of(),
    "teams": Page(),
    "team_new": Page(),
    "team": _of(),
    "team_edit": _of(),
    "sign_in_card": _of(),
    "sign_in_cards": Page(),
    "roster": Page(),
    "member": _of(),
    "missions": Page(),
    "mission": Page(kwargs={"mission_id": 1}),
    "mission_new": Page(),
    "mission_import": Page(),
    "mission_edit": _of(),
    "mission_versions": _of(),
    "mission_publish": _of(),
    "setup_sheets": _of(),
    "feasibility_panel": _of(),
    "obstacle_places": _of(),
    "course_ask": Page(kwargs={"team_id": 1, "tier_id": 1}),
    "course_by_number": Page(kwargs={"team_id": 1, "tier_id": 1, "number": 1}),
    "course": _of(),
    "course_card": _of(),
    "tier_cards": Page(kwargs={"tier_id": 1}),
    "job": _of(),
    "tier_picture": _of(),
    "robots": Page(),
    "robot_new": Page(),
    "robot": _of(),
    "robot_edit": _of(),
    "calibrate": Page(kwargs={"pk": 1, "kind": "straight"}),
    "robot_run_picture": Page(kwargs={"pk": 1, "kind": "straight"}),
    "calibration": _of(),
    "spares": Page(),
    "spare": _of(),
    "top_mark": _of(),
    "families": Page(),
    "family_queue": Page(),
    "family_slips": Page(),
    "family_member": _of(),
    "family_preview": _of(),
    "child_erase": _of(),
    "family_link_revoke": _of(),
    "club_settings": Page(),
    "audit_log": Page(),
    "club_data": Page(),
    "marks": Page(),
    "mark_sheets": Page(),
    "coaches": Page(),
    "privacy": Page(),
    "privacy_children": Page(),
    "privacy_impact": Page(),
    "sign_ins": Page(),
    "account_change_password": Page(),
    "account_reauthenticate": Page(),
    "account_logout": Page(),
    "mfa_index": Page(),
}
#: Addresses that are asked for by GET and are not in ``PAGES``, with the reason.
LEFT_OUT: dict[str, str] = {
    "health": MACHINE,
    "ready": MACHINE,
    "metrics": MACHINE,
    "preparing": "no page but an answer: a page that waits asks it whether the planner is ready",
    "team_worker": MACHINE,
    "team_news": PART,
    "team_rehearsal": PART,
    "course_rehearsal": PART,
    "robot_outline": PART,
    "feasibility_look": PART,
    "obstacle_look": PART,
    "mission_export": FILE,
    "term_calendar": FILE,
    "mission_delete": "only of a mission that was put away a month ago",
    "family_drafts": "sends on while no draft is being written",
    "family_slips_made": "sends on while no slips are being made",
    "family_no_mail": "its address stands in a family's e-mail alone",
    "account_set_password": "sends on whoever has a password",
    "mfa_authenticate": SECOND_STEP,
    "mfa_reauthenticate": SECOND_STEP,
    "mfa_activate_totp": SECOND_STEP,
    "mfa_deactivate_totp": SECOND_STEP,
    "mfa_view_recovery_codes": SECOND_STEP,
    "mfa_generate_recovery_codes": SECOND_STEP,
    "mfa_download_recovery_codes": SECOND_STEP,
}
#: What a club that was just opened shows otherwise than one with a term behind it.
OF_AN_EMPTY_CLUB = (
    *("board", "today", "term", "teams", "missions", "robots", "spares", "families", "club_settings", "audit_log"),
    *("sign_in_cards", "tables", "marks", "coaches", "family_queue", "family_slips"),
)


class Sheets:
    """Pages looked at by whoever may see them, a browser window for each who and look."""

    def __init__(self, browser: Any, address: str, keys: dict[str, str]) -> None:
        self.browser, self.address, self.keys = browser, address, keys
        self.windows: dict[tuple[str, int, bool], Visitor] = {}

    def window(self, who: str, width: int, dark: bool) -> Visitor:
        key = (who, width, dark)
        if key not in self.windows:
            made = Visitor(self.browser, self.address, width, WIDTHS[width], dark, touch=who == "team")
            sign_in: dict[str, Callable[[dict[str, str]], Any]] = {
                "coach": made.sign_in_coach,
                "new coach": lambda keys: made.sign_in_coach(keys | NEW_COACH),
                "team": made.sign_in_team,
                "family": made.sign_in_family,
            }
            if who in sign_in:
                sign_in[who](self.keys)
            self.windows[key] = made
        return self.windows[key]

    def path_of(self, name: str, window: Visitor) -> str:
        from django.urls import Resolver404, resolve, reverse  # late: the settings are named by then

        page = PAGES[name]
        if not page.linked_from:
            kwargs = {key: self.keys.get(str(value), value) for key, value in page.kwargs.items()}
            return reverse(name, kwargs=kwargs) + page.query
        window.page.goto(self.path_of(page.linked_from, window))
        for link in window.page.eval_on_selector_all("main a[href]", "all => all.map(one => one.getAttribute('href'))"):
            try:
                if resolve(link.split("?")[0].split("#")[0]).url_name == name:
                    return str(link)
            except Resolver404:
                continue
        raise LookupError(f"{page.linked_from} links to no {name}")

    def shots(self, name: str, who: str, state: State | None) -> Iterator[Image.Image]:
        for width in WIDTHS:
            for dark in (False, True):
                window = self.window(who, width, dark)
                answer = window.page.goto(self.path_of(name, window))
                if answer is None or answer.status != 200:
                    raise LookupError(f"{answer and answer.status} instead of a page")
                if state:
                    state.does(window.page)
                window.page.wait_for_load_state("networkidle")
                yield Image.open(io.BytesIO(window.page.screenshot(full_page=True)))

    def sheet(self, name: str, who: str, state: State | None = None) -> Image.Image:
        columns = [_column(shot) for shot in self.shots(name, who, state)]
        made = Image.new("RGB", (len(columns) * (COLUMN + GAP), max(one.height for one in columns)), "#808080")
        for place, column in enumerate(columns):
            made.paste(column, (place * (COLUMN + GAP), 0))
        return made


def _column(shot: Image.Image) -> Image.Image:
    scale = min(1.0, COLUMN / shot.width)
    small = shot.convert("RGB").resize((round(shot.width * scale), round(shot.height * scale)))
    return small.crop((0, 0, small.width, min(small.height, TALLEST)))


NEW_COACH = {"coach_email": "new@saltmarsh.example", "coach_password": "gull-anchor-tideline-4417"}


def open_empty_club(browser: Any, address: str, data: str) -> None:
    """A club beside the demonstration, and its coach by the link that the command prints."""
    join = browser.new_page()
    join.goto(invitation(address, data, "Empty Club", NEW_COACH["coach_email"]))
    for field_name, value in {"name": "Marram", "password": NEW_COACH["coach_password"]}.items():
        for box in join.locator(f"main input[name^={field_name}]").all():
            box.fill(value)
    join.click("main form button")
    join.wait_for_load_state("networkidle")
    join.close()


def invitation(address: str, data: str, club: str, email: str) -> str:
    command = [sys.executable, str(ROOT / "manage.py"), "open_club", club, email, "--address", address]
    env = os.environ | {"HELMROOM_DATA": data}
    said = subprocess.run(command, env=env, check=True, capture_output=True, text=True).stdout
    return re.findall(r"\S+/join/\S+", said)[0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=ROOT / "var" / "screenshots")
    parser.add_argument("--minutes", type=float, default=25.0)
    parser.add_argument("--only", nargs="*", choices=sorted([*PAGES, *STATES]), default=[])
    chosen = parser.parse_args()
    from playwright.sync_api import sync_playwright

    chosen.folder.mkdir(parents=True, exist_ok=True)
    with running_site() as (address, keys), sync_playwright() as playwright:
        until = time.monotonic() + 60 * chosen.minutes
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        missed = draw(browser, address, keys, chosen.folder, chosen.only, until)
        browser.close()
    print(f"Sheets in {chosen.folder}." + "".join(f"\n  not drawn: {name}: {why}" for name, why in missed.items()))
    if missed:
        raise SystemExit(1)


def draw(
    browser: Any, address: str, keys: dict[str, str], folder: Path, only: list[str], until: float
) -> dict[str, str]:
    """Draws what is asked for; gives what it did not, with the reason."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.local")
    os.environ |= {
        "HELMROOM_DATA": keys["data"],
        "DJANGO_ALLOW_ASYNC_UNSAFE": "true",
    }  # states are made in its database
    django.setup()
    from classroom.models import Club  # late: the settings are named by then

    open_empty_club(browser, address, keys["data"])
    keys = keys | {"family_token": keys["family_link"].strip("/").split("/")[-1]}
    keys |= {
        "invitation": invitation(address, keys["data"], "Other Club", "other@saltmarsh.example")
        .strip("/")
        .split("/")[-1]
    }
    ask_for_course(Visitor(browser, address, 1280, 800, dark=False).sign_in_coach(keys))
    sheets, missed = Sheets(browser, address, keys), {}
    wanted = [(name, page.who, name) for name, page in PAGES.items() if not only or name in only]
    wanted += [(name, "new coach", f"{name}-empty") for name in OF_AN_EMPTY_CLUB if not only or name in only]
    wanted += [(state.page, PAGES[state.page].who, file) for file, state in STATES.items() if not only or file in only]
    club = Club.objects.order_by("pk")[0]
    for name, who, file in wanted:
        if time.monotonic() > until:
            missed[file] = "the time was over"
            continue
        state = STATES.get(file)
        try:
            if state:
                state.changes(club)
            sheets.sheet(name, who, state).save(folder / f"{file}.png")
        except LookupError as error:
            missed[file] = str(error)
    return missed


if __name__ == "__main__":
    main()
