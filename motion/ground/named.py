"""Things on a table as a sentence names them: by their own name, else by what they are."""

from __future__ import annotations

from motion.course.sentences import Sentence, _

EDGE_NAMES = (_("the left edge"), _("the near edge"), _("the right edge"), _("the far edge"))
TARGET_NAMES = (_("first target"), _("second target"), _("third target"))
_THE_TARGETS: dict[str, Sentence] = dict(
    zip(TARGET_NAMES, (_("the first target"), _("the second target"), _("the third target")), strict=True)
)


def with_article(name: str) -> str:
    """A name within a sentence.

    >>> with_article("gravel bank"), with_article(EDGE_NAMES[0]), with_article(TARGET_NAMES[1])
    ('the gravel bank', 'the left edge', 'the second target')
    """
    if name in _THE_TARGETS:
        return _THE_TARGETS[name]
    if isinstance(name, Sentence) or name.split()[0] in ("the", "obstacle", "keep-out"):
        return name
    return _("the {name}", name=name)
