"""Forms found by each role, filled in badly and sent; what came of it."""

from __future__ import annotations

import re
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random
from typing import Any
from urllib.parse import urlencode

from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.signals import got_request_exception
from django.db import connection, transaction
from django.test import Client
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.urls import reverse

from tests.access import all_rows
from tests.hostile.bad_values import MISSING, bad_value, twisted
from tests.hostile.page_forms import PageForm, page_forms
from tests.hostile.two_clubs import SENTINEL, OtherClub

FORM = "application/x-www-form-urlencoded"
_WRITES = re.compile(r'(?:INSERT(?: OR IGNORE)? INTO|UPDATE|DELETE FROM) "(\w+)"')


@dataclass
class Target:
    """Something a role may send: to where, with which fields. ``theirs`` is the same address of the other club's row."""

    role: str
    form: PageForm
    theirs: str = ""
    body: str = ""

    def __str__(self) -> str:
        return f"{self.role} {self.form.to}"


@dataclass
class Tally:
    posts: int = 0
    answers: Counter[int] = field(default_factory=Counter)
    findings: dict[str, str] = field(default_factory=dict)

    def note(self, what: str, target: Target, sent: Any) -> None:
        """The first of its kind with what was sent, shortened."""
        self.findings.setdefault(what, f"{target}: {str(sent)[:700]!r}")


def targets_of(
    client: Client, role: str, addresses: dict[str, str], sent: dict[str, Any], other: dict[str, str]
) -> list[Target]:
    """From every page of the role its forms, and what scripts send to addresses without a page (from the access matrix)."""
    found: dict[tuple[str, ...], Target] = {}

    def add(form: PageForm, theirs: str = "", body: str = "") -> None:
        found.setdefault(form.kind(), Target(role, form, theirs, body))

    for key, address in addresses.items():
        row = all_rows().get(key)
        if row is not None and row.method == "post":
            data = sent[key]
            body = data if isinstance(data, str) else ""
            fields = [] if body else [(name, str(value)) for name, value in data.items()]
            add(PageForm(address, True, fields), other.get(key, ""), body)
            continue
        answer = client.get(address, sent.get(key) or {})
        if answer.headers.get("Content-Type", "").startswith("text/html") and answer.status_code in (200, 422):
            for form in page_forms(answer.content.decode(), address):
                if form.to.startswith("/"):
                    add(form, other.get(key, "") if form.to.split("?")[0] == address else "")
    return list(found.values())


class Sender:
    """Sends each in a transaction of its own that is undone, so that every page stays there for the next one."""

    def __init__(self, clients: dict[str, Client], other: OtherClub, tally: Tally, seed: int) -> None:
        self.clients, self.other, self.tally = clients, other, tally
        self.random = Random(seed)
        self.foreign = other.foreign
        self.errors: list[str] = []

    def __enter__(self) -> Sender:
        got_request_exception.connect(self._heard)
        return self

    def __exit__(self, *_: object) -> None:
        got_request_exception.disconnect(self._heard)

    def _heard(self, sender: Any, **_: Any) -> None:
        lines = traceback.format_exc().strip().splitlines()
        ours = [
            line.strip() for line in lines if "/tests/" not in line and re.search(r'File "(?!.*site-packages)', line)
        ]
        self.errors.append(f"{lines[-1][:160]} | {ours[-1] if ours else lines[-3].strip()}")

    def send(self, target: Target) -> None:
        client = Client(raise_request_exception=False)
        client.cookies = self.clients[target.role].cookies.copy()
        client.defaults = dict(self.clients[target.role].defaults)
        path, sent, kind = self._request(target)
        written: set[str] = set()
        self.errors.clear()
        with transaction.atomic():
            with connection.execute_wrapper(_noting(written)):
                ask = (
                    client.generic("POST", path, sent, kind)
                    if target.form.post
                    else client.get(path, QUERY_STRING=sent)
                )
            self.tally.posts += 1
            self.tally.answers[ask.status_code] += 1
            if ask.status_code >= 500 or self.errors:
                self.tally.note(self.errors[0] if self.errors else f"answered {ask.status_code}", target, sent)
            elif target.role != "support":
                body = b"".join(ask.streaming_content) if ask.streaming else ask.content
                if SENTINEL.lower().encode() in body.lower() or SENTINEL.lower() in str(ask.headers).lower():
                    self.tally.note("shows something of the other club", target, (path, sent))
                for wrong in self.other.harmed(written) if written and not self.errors else []:
                    self.tally.note(wrong, target, (path, sent))
            transaction.set_rollback(True)

    def _request(self, target: Target) -> tuple[str, Any, str]:
        random, form = self.random, target.form
        path = target.theirs if target.theirs and random.random() < 0.1 else form.to
        if target.body:
            return path, self._body(target.body), "application/json"
        sent = self._fields(form.fields)
        if not form.post:
            return path.split("?")[0], urlencode(sent, doseq=True, errors="surrogatepass"), ""
        if random.random() < 0.03:
            return path, twisted(random, "{}"), random.choice(["application/json", "text/plain", "nonsense", ""])
        if form.files or random.random() < 0.1:
            return path, encode_multipart(BOUNDARY, dict(sent) | self._files(form)), MULTIPART_CONTENT
        text = urlencode(sent, doseq=True, errors="surrogatepass")
        return path, text + random.choice(["", "", "", "&%ff%fe=%00", "&" + "a=b&" * 50, "&=;&&"]), FORM

    def _fields(self, usual: list[tuple[str, str]]) -> list[tuple[str, Any]]:
        """Mostly one field is bad, so that the others do not hide it; at times all are."""
        random = self.random
        bad = set(range(len(usual))) if random.random() < 0.15 else {random.randrange(len(usual))} if usual else set()
        if random.random() < 0.2:
            bad |= {random.randrange(len(usual))} if usual else set()
        sent = []
        for k, (name, value) in enumerate(usual):
            now = bad_value(random, value, self.foreign) if k in bad else value
            if now is not MISSING:
                sent.append((name, now))
        if random.random() < 0.05:
            sent.append(
                (
                    random.choice(["pk", "club", "club_id", "team", "is_staff", "role", "\x00"]),
                    random.choice(self.foreign),
                )
            )
        return sent

    def _files(self, form: PageForm) -> dict[str, Any]:
        random, files = self.random, {}
        names = form.files or [name for name, _ in random.sample(form.fields, min(1, len(form.fields)))]
        for name in names:
            value = bad_value(random, "{}", self.foreign)
            content = str(value).encode("utf-8", "surrogatepass") if random.random() < 0.8 else random.randbytes(3000)
            title = random.choice(["a.json", "../../a.csv", "a" * 300 + ".csv", "CON", "\u202e.json", "a.png"])
            files[name] = SimpleUploadedFile(title, content, random.choice(["text/csv", "application/json", "", "x"]))
        return files

    def _body(self, usual: str) -> bytes:
        random = self.random
        if random.random() < 0.3:
            return str(bad_value(random, "", self.foreign)).encode("utf-8", "surrogatepass")
        if random.random() < 0.1:
            return random.randbytes(200)
        return twisted(random, usual).encode()


def _noting(written: set[str]) -> Callable[..., Any]:
    def wrapper(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        written.update(_WRITES.findall(sql))
        return execute(sql, params, many, context)

    return wrapper


def addresses_for(arguments: dict[str, dict[str, Any]]) -> dict[str, str]:
    return {key: reverse(key.split(":")[0], kwargs=values) for key, values in arguments.items()}


def let_in(role: str, addresses: dict[str, str]) -> dict[str, str]:
    """Those which do not refuse the role. Whoever is nobody is sent to a door by most, and to nowhere else."""
    rows, well = all_rows(), {200, 204, 409, 422} | ({404} if role == "nobody" else {302})
    return {key: address for key, address in addresses.items() if rows[key].answers()[role] in well}


def in_turns(targets: list[Target], random: Random, posts: int) -> Iterator[Target]:
    """All of them, again and again, each round in another order."""
    sent = 0
    while targets and sent < posts:
        for target in random.sample(targets, len(targets))[: posts - sent]:
            yield target
            sent += 1
