"""``python -m benchmarks [PREFIX]``: one JSON line a figure; exit 1 when one falls short of its bar.

PREFIX picks figures: ``motion``, ``foundation.board``. Without it all are measured, one after the other.
"""

from __future__ import annotations

import importlib
import json
import math
import os
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings.test")

from benchmarks.figures import Figure


def all_figures() -> dict[str, Callable[[], Figure]]:
    """Every figure of this folder by its name."""
    found: dict[str, Callable[[], Figure]] = {}
    for path in sorted(Path(__file__).parent.glob("*.py")):
        if not path.stem.startswith("_"):
            found |= getattr(importlib.import_module(f"benchmarks.{path.stem}"), "FIGURES", {})
    return found


def line_of(name: str, figure: Figure) -> str:
    value = float(f"{figure.value:.4g}") if math.isfinite(figure.value) else None  # JSON has no NaN
    facts = {"figure": name, "value": value, "unit": figure.unit, "bar": figure.bar, "holds": figure.holds}
    return json.dumps(facts | {"note": figure.note}, ensure_ascii=False)


def main(prefix: str = "") -> int:
    import django

    django.setup()
    asked = {name: measure for name, measure in all_figures().items() if name.startswith(prefix)}
    if not asked:
        print(f"No figure begins with “{prefix}”.", file=sys.stderr)
        return 2
    short = 0
    for name, measure in sorted(asked.items()):
        try:
            figure = measure()
        except Exception:
            traceback.print_exc()
            print(
                json.dumps({"figure": name, "value": None, "holds": False, "note": "could not be measured"}), flush=True
            )
            short += 1
            continue
        print(line_of(name, figure), flush=True)
        short += not figure.holds
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:2]))
