"""How to look round the demonstration, in the words that stand in the window where helmroom was started."""

from __future__ import annotations

import json

from config.demo.half_made import is_being_made, sign_ins_file


def sign_in_lines(address: str) -> list[str]:
    """As its maker wrote them down; nothing where there is no demonstration.

    Parameters
    ----------
    address
        Where the site answers, such as ``http://127.0.0.1:8000/``; empty when it is not known.
    """
    if is_being_made():
        return ["", "  The invented demonstration club is being made; its sign-ins follow in a moment."]
    if not sign_ins_file().exists():
        return []
    demo = json.loads(sign_ins_file().read_text())
    lines = [
        "",
        "  The invented demonstration club:",
        f"    coach    {demo['coach_email']}  password  {demo['coach_password']}",
        f"    team     {demo['team']}  code  {demo['join_code']}  PIN  {demo['pin']}  at {address}team/",
    ]
    if demo.get("family_link"):
        link = demo["family_link"]
        lines.append(f"    family   {link if link.startswith('http') else address.rstrip('/') + link}")
    return lines
