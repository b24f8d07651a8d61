"""What is to be translated, read out of the sources themselves, and what the catalogues in locale/ say of it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from django.template.loader import get_template
from django.templatetags.i18n import BlockTranslateNode, TranslateNode

from tests.test_architecture import LAYERS, ROOT, python_files

LANGUAGES = ("es", "de")
#: What marks a sentence in Python; its first argument is a msgid, with ``n`` the second its plural.
MARKS = {"_", "gettext", "gettext_lazy", "gettext_noop"}
PLURAL_MARKS = {"ngettext", "ngettext_lazy"}

Key = tuple[str, str | None]


@dataclass
class Entry:
    """One sentence of a catalogue; ``plural`` is None where it has no number."""

    msgid: str = ""
    plural: str | None = None
    said: list[str] = field(default_factory=list)
    fuzzy: bool = False


def catalogue(language: str) -> list[Entry]:
    """A .po file as GNU gettext's manual has it ("The Format of PO Files"), from memory; its header left out."""
    entries: list[Entry] = []
    entry, filling = Entry(), ""
    for line in [*(ROOT / "locale" / language / "LC_MESSAGES" / "django.po").read_text().splitlines(), ""]:
        if not line.strip():
            entries += [entry] if entry.said else []
            entry, filling = Entry(), ""
        elif line.startswith("#"):
            entry.fuzzy |= line.startswith("#,") and "fuzzy" in line
        else:
            keyword, _, rest = line.rpartition(' "') if not line.startswith('"') else (filling, "", line[1:])
            text = ast.literal_eval('"' + rest)
            begins, filling = keyword != filling, keyword
            if keyword == "msgid":
                entry.msgid += text
            elif keyword == "msgid_plural":
                entry.plural = (entry.plural or "") + text
            elif begins:
                entry.said.append(text)
            else:
                entry.said[-1] += text
    return [entry for entry in entries if entry.msgid]


def template_names() -> list[str]:
    folder = ROOT / "templates"
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.suffix in (".html", ".txt"))


def sentences_in_template(name: str) -> Iterator[Key]:
    nodes = get_template(name).template.nodelist
    for node in nodes.get_nodes_by_type(TranslateNode):
        literal = node.filter_expression.var.literal
        if literal is not None:
            yield str(literal).replace("%", "%%"), None  # as Django doubles it on the way into the catalogue and back
    for node in nodes.get_nodes_by_type(BlockTranslateNode):
        singular, _ = node.render_token_list(node.singular)
        plural = node.render_token_list(node.plural)[0] if node.plural and node.countervar else None
        yield singular, plural


def name_called(node: ast.AST) -> str:
    return node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else ""


def sentences_in_python(path: Path) -> Iterator[Key]:
    for node in ast.walk(ast.parse(path.read_text())):
        called = name_called(node)
        if called in MARKS | PLURAL_MARKS:
            assert isinstance(node, ast.Call)
            texts = [arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
            if called in PLURAL_MARKS:
                yield texts[0], texts[1]
            elif texts:
                yield texts[0], None


def sentences_of_the_house() -> set[Key]:
    found = {key for path in python_files(*LAYERS) for key in sentences_in_python(path)}
    return found | {key for name in template_names() for key in sentences_in_template(name)}


def placeholders(text: str) -> list[str]:
    return sorted(re.findall(r"%\(\w+\)[sd]|\{\w*\}", text))
