"""A line of the log as a lead coach reads it."""

from __future__ import annotations

from pathlib import Path

import pytest

from classroom.club.audit_words import READ_AS, sentence_of
from classroom.models import AuditEntry

APPS = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize(
    ("verb", "subject", "read"),
    [
        ("archived team", "team:3", "Put team away: team Curlew"),
        ("mission_archived", "mission:8", "Put mission away: mission 8"),
        ("added member", "member:1 team:3", "Added child: member 1, team Curlew"),
        ("checked caution", "", "Checked caution"),
        ("issued code", "for two hours", "Issued code: for two hours"),
    ],
)
def test_a_line_has_the_words_of_the_glossary(verb, subject, read):
    assert sentence_of(AuditEntry(verb=verb, subject=subject), {"team:3": "team Curlew"}) == read


def test_a_verb_that_is_read_otherwise_is_one_that_is_written():
    written = "".join(
        path.read_text() for app in ("classroom", "missions") for path in (APPS / app).rglob("services/*.py")
    )
    written += (APPS / "classroom/families/share_summary.py").read_text()
    assert [verb for verb in READ_AS if f'"{verb}"' not in written] == []
