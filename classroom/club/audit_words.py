"""The log's codes (coach:12, team:3) as names that a lead coach knows; rows that are gone keep their code."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _

from classroom.club.log_names import names_by
from classroom.models import AuditEntry, Club, Coach, Member, Robot, Session, Spare, SummaryLink, Table, Team, Term
from classroom.site.isolated import isolated

_CODE = re.compile(r"[a-z]+:\d+")
#: Verbs that stand in rows of old and new in a word that pages do not use (docs/glossary.md), as they are read.
READ_AS = {
    "added member": "added child",
    "archived team": "put team away",
    "member left": "child left",
    "mission_archived": "put mission away",
    "moved member": "moved child",
    "removed session": "deleted session",
    "renamed member": "renamed child",
    "revoked family link": "ended family link",
    "took table away": "put table away",
    "withdrew a run": "took out a run",
}


def actor_names(club: Club, entries: Iterable[AuditEntry]) -> dict[str, str]:
    """Names of all rows of the club that these entries name; one query a kind."""
    codes = {code for entry in entries for code in (entry.actor, *entry.subject.split()) if ":" in code}
    wanted: dict[str, list[int]] = {}
    for code in codes:
        kind, _colon, key = code.partition(":")
        if key.isdecimal():
            wanted.setdefault(kind, []).append(int(key))
    names: dict[str, str] = {}
    for kind, rows in {
        "coach": Coach.objects.select_related("user").filter(club=club),
        "team": Team.objects.filter(club=club),
        "robot": Robot.objects.filter(club=club),
        "member": Member.objects.filter(club=club),
        "spare": Spare.objects.filter(club=club),
        "table": Table.objects.filter(club=club),
        "session": Session.objects.select_related("term").filter(term__club=club),
        "term": Term.objects.filter(club=club),
    }.items():
        for row in rows.filter(pk__in=wanted.get(kind, [])) if kind in wanted else ():
            named = _("team %(team)s") % {"team": isolated(row)} if kind == "team" else str(row)
            names[f"{kind}:{row.pk}"] = named
    links = wanted.get("link", []) + wanted.get("summarylink", [])
    if links:
        for link in SummaryLink.objects.select_related("member").filter(member__club=club, pk__in=links):
            named = _("the family link of %(child)s") % {"child": isolated(link.member)}
            names[f"link:{link.pk}"] = names[f"summarylink:{link.pk}"] = named
    for kind, keys in wanted.items():
        names |= {f"{kind}:{key}": words for key, words in names_by(kind, club, keys).items()}
    return names


def who_did(entry: AuditEntry, names: Mapping[str, str]) -> str:
    """The actor by name; a link or a tablet by what it is."""
    kind, _colon, key = entry.actor.partition(":")
    known = {
        "summarylink": _("a family's link"),
        "tabletsession": _("a tablet"),
        "support": _("helmroom's support"),
        "system": _("the system"),
    }
    return names.get(entry.actor) or _coded(known.get(kind, kind), key)


def sentence_of(entry: AuditEntry, names: Mapping[str, str]) -> str:
    said = entry.subject.split()
    coded = any(_CODE.fullmatch(word) for word in said)
    parts = [names.get(word) or _coded(*word.split(":", 1)) for word in said] if coded else [entry.subject]
    done = READ_AS.get(entry.verb, entry.verb).replace("_", " ")
    subject, verb = ", ".join(parts), _(done) if done else ""
    words = verb if not subject else f"{verb}: {subject}"
    return words[:1].upper() + words[1:]


def _coded(kind: str, key: str = "") -> str:
    """A row that is gone, or that stayed behind when the club came from elsewhere: then it has no number any more."""
    return kind if key in ("", "0") else f"{kind} {key}"
