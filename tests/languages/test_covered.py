"""In a covered room no word for people stands outside a mark, and no sentence is glued from parts."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from django.template.base import Lexer, TokenType

from classroom.site.script_words import SAID_BY_SCRIPTS, SAID_BY_THE_EDITOR
from tests.languages.covered import MODULES, TEMPLATES
from tests.languages.sentences_of import MARKS, PLURAL_MARKS, name_called, template_names
from tests.test_architecture import ROOT

WORD = re.compile(r"[^\W\d_]{2,}")
#: The program's own name, and what is written alike in every language.
SAME_EVERYWHERE = {"helmroom", "mm", "cm"}
READ_ALOUD = {"aria-label", "title", "placeholder", "alt", "label"}
#: In the place of what a template tag writes.
WRITTEN = "\x00"
TWO_WORDS = re.compile(r"[^\W\d_]{2,}[,;:]? [^\W\d_]{2,}")


class _Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.quiet = 0

    def look(self, text: str | None) -> None:
        self.found += [word for word in WORD.findall(text or "") if word not in SAME_EVERYWHERE]

    def handle_starttag(self, tag, attrs):
        self.quiet += tag in ("script", "style")
        for name, value in attrs:
            if name in READ_ALOUD:
                self.look(value)

    def handle_endtag(self, tag):
        self.quiet -= tag in ("script", "style")

    def handle_data(self, data):
        if not self.quiet:
            self.look(data)


def words_outside(source: str) -> list[str]:
    """Words of a template that no translation reaches: its text, what is read aloud, sentences handed to tags."""
    page, handed, within = [], [], False
    for token in Lexer(source).tokenize():
        name, _, first = token.contents.partition(" ")
        if token.token_type == TokenType.BLOCK and name in ("block", "endblock"):
            within = name == "block" and first.endswith("_class")  # names of styles
        if token.token_type == TokenType.BLOCK and name in ("blocktranslate", "endblocktranslate"):
            within = name == "blocktranslate"
        if token.token_type == TokenType.TEXT:
            page.append("" if within else token.contents)
        elif token.token_type in (TokenType.VAR, TokenType.BLOCK):
            page.append(WRITTEN)
            if name not in ("translate", "blocktranslate"):
                texts = re.findall(r'"([^"]*)"', token.contents)
                handed += [text for text in texts if TWO_WORDS.search(text)]
    parser = _Words()
    parser.feed("".join(page))
    parser.close()
    return parser.found + handed


def test_a_word_that_no_translation_reaches_is_seen():
    assert words_outside('<p>{% translate "A word" %} {{ name }}</p>') == []
    assert words_outside("<p>Some {% blocktranslate %}more{% endblocktranslate %}</p>") == ["Some"]
    assert words_outside('<b aria-label="Menu" class="wide"></b>') == ["Menu"]
    assert words_outside('{{ name|default:"not yet" }}') == ["not yet"]
    assert words_outside('{{ day|date:"j F" }}<script>let word;</script>') == []


def covered_templates() -> list[str]:
    return [
        name
        for name in template_names()
        if any(name == room or name.startswith(room.rstrip("*")) for room in TEMPLATES)
    ]


@pytest.mark.parametrize("name", covered_templates())
def test_no_word_of_a_covered_template_stands_outside_a_mark(name):
    assert words_outside((ROOT / "templates" / name).read_text()) == []


def test_every_covered_room_is_there():
    names = template_names()
    assert [room for room in TEMPLATES if not any(name.startswith(room) for name in names)] == []
    assert [module for module in MODULES if not (ROOT / module).is_file()] == []


#: Calls whose words go to the log, to a program or to whoever reads the code.
NOT_FOR_PEOPLE = re.compile(
    r"^(log\.\w+|note_in_audit|refuse_changed|re\.\w+|getattr|ValueError|AssertionError|KeyError|(uuids\.)?uuid5|\w+\.[gs]et_signed_cookie)$"
)


#: Values that the program compares and shows to nobody.
COMPARED = {
    "ended the term",
    "private, no-store",
    "no-store, private",
    "text/calendar; charset=utf-8",
    'inline; filename="sessions.ics"',
    'attachment; filename="copy-of-records.zip"',
    "overruled the rule",
    "moved a team",
    "far right",
    "far left",
    "near left",
    "near right",
    "a team, no child by itself",
    "the club and its things",
    "whoever comes to the door",
    "too far",
    'attachment; filename="',
    "Ready would take ",
    "yyyy-mm-dd hh:mm:ss",
}


def glued_or_unmarked(tree: ast.Module) -> Iterator[str]:
    marked: set[int] = set()
    for node in ast.walk(tree):
        if name_called(node) in MARKS | PLURAL_MARKS:
            marked |= {id(part) for part in ast.walk(node)}
        if isinstance(node, ast.Call) and NOT_FOR_PEOPLE.match(ast.unparse(node.func)):
            marked |= {id(part) for arg in [*node.args, *node.keywords] for part in ast.walk(arg)}
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            marked.add(id(node.value))  # a docstring
        if isinstance(node, ast.Assert) and node.msg is not None:
            marked |= {id(part) for part in ast.walk(node.msg)}  # for whoever reads the code
    for node in ast.walk(tree):
        where = getattr(node, "lineno", 0)
        if (
            name_called(node) in MARKS
            and isinstance(node, ast.Call)
            and isinstance(node.args[0], ast.JoinedStr | ast.BinOp)
        ):
            yield f"{where}: a msgid that is put together"
        sides = (node.left, node.right) if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add) else ()
        if any(name_called(side) in MARKS | PLURAL_MARKS for side in sides):
            yield f"{where}: a translation with something added to it"
        if isinstance(node, ast.JoinedStr):
            calls = [part for part in ast.walk(node) if name_called(part) in MARKS | PLURAL_MARKS]
            letters = [
                p.value
                for p in node.values
                if isinstance(p, ast.Constant) and re.search(r"(^| )[^\W\d_]{2,}( |$)", p.value)
            ]
            if id(node) not in marked and (calls or letters):
                yield f"{where}: words glued to a value"
        text = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
        if id(node) not in marked and TWO_WORDS.search(text) and text not in COMPARED and not text.startswith("<"):
            yield f"{where}: {text[:40]}"


@pytest.mark.parametrize("module", MODULES)
def test_no_sentence_of_a_covered_module_is_glued_or_left_out(module):
    assert list(glued_or_unmarked(ast.parse((ROOT / module).read_text()))) == []


def test_glue_is_seen():
    for code in ('_("Run") + name', '_(f"Run {n}")', 'f"{_(name)} of {n}"', 'f"{n} runs"', 'x = "Two words"'):
        assert list(glued_or_unmarked(ast.parse(code))), code
    assert list(glued_or_unmarked(ast.parse('_("Two words") % {"n": f"{a}, {b}"}; log.info("two words")'))) == []


#: Scripts of pages that a covered room shows.
SCRIPTS = (
    "missions/day/today.js",
    "classroom/classroom.js", "site/chart.js", "site/left.js", "site/live.js", "site/news.js", "site/page.js", "site/queue.js", "site/recall.js", "site/sender.js",
    "site/tablet.js", "site/wall.js", "planning/team/checks.js", "planning/team/course.js", "planning/team/draft.js",
    "planning/team/kept_runs.js", "planning/team/log.js", "planning/team/pad.js", "planning/team/stopwatch.js",
    "planning/courses/rehearsal.js", "planning/team/picture/check.js", "planning/team/picture/stopped.js",
    "classroom/robots/by_picture.js", "classroom/robots/measure.js", "classroom/robots/picture_link.js",
    "classroom/club/marks/send.js",
)  # fmt: skip
#: Scripts of the mission editor, whose page carries their words besides.
EDITOR_SCRIPTS = tuple(
    f"missions/editor/{name}.js" for name in ("chart", "editor", "form", "hands", "ladder", "moves", "state", "units")
)
_SAID = re.compile(r'\b(?:say|inPageLanguage)\("((?:[^"\\]|\\.)*)"')
_TEXT = re.compile(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`')
_COMMENT = re.compile(r"(^|\s)//.*$|/\*.*?\*/", re.M | re.S)


def unsaid_in(script: str) -> list[str]:
    """Texts of two words or more that no ``say`` puts into the page's language; names of styles have none with a capital."""
    rest = _SAID.sub("", _COMMENT.sub("", script))
    texts = (re.sub(r"\$\{[^}]*\}", WRITTEN, plain or put) for plain, put in _TEXT.findall(rest))
    return [text for text in texts if re.match(r"[A-Z].*", text) and TWO_WORDS.search(text)]


@pytest.mark.parametrize("name", (*SCRIPTS, *EDITOR_SCRIPTS))
def test_no_sentence_of_a_script_is_english_alone(name):
    assert unsaid_in((ROOT / "static" / name).read_text()) == []


def test_what_scripts_say_is_carried_by_the_page_and_nothing_else():
    said = [sentence for name in SCRIPTS for sentence in _SAID.findall((ROOT / "static" / name).read_text())]
    assert set(said) == set(SAID_BY_SCRIPTS)


def test_what_the_editor_says_is_carried_by_its_page():
    said = [sentence for name in EDITOR_SCRIPTS for sentence in _SAID.findall((ROOT / "static" / name).read_text())]
    assert set(said) == set(SAID_BY_THE_EDITOR)


def test_a_sentence_that_a_script_does_not_say_is_seen():
    assert unsaid_in('one.textContent = "Not saved yet"; // A comment of words') == ["Not saved yet"]
    assert unsaid_in("const words = `Run ${n} is kept`;") == [f"Run {WRITTEN} is kept"]
    assert unsaid_in('say("Not saved yet"); made.className = "card stack";') == []
