"""``python -m tests.mutants [MODULE ...]``: the table of what the tests notice."""

from __future__ import annotations

import argparse
import fnmatch
import os
import sys
import tempfile

#: What needs a browser or another server, or takes long, is no part of a module's own tests.
AT_HAND = "not browser and not redis and not postgres and not slow"


def main() -> int:
    """Nought when the measure holds: enough noticed, and a reason for each survivor."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("modules", nargs="*", help="paths, patterns or folders; all of them when none is given")
    parser.add_argument("--most", type=int, default=25, help="changes of a module at most, drawn by lot (default 25)")
    parser.add_argument("--all", action="store_true", help="every change")
    parser.add_argument("--seed", default="1", help="of the lot")
    parser.add_argument("--only", default="", help="only changes whose name holds this text")
    parser.add_argument("--again", action="store_true", help="only those that survive by docs/mutants.md, written anew")
    parser.add_argument(
        "--tests", nargs="+", default=[], help="only these of their own tests: what they notice, all notice"
    )
    parser.add_argument("--write", action="store_true", help="write the rows of these modules into docs/mutants.md")
    asked = parser.parse_args()
    # Examples that fail because of a change are not to be tried first in later runs of the suite.
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = tempfile.mkdtemp(prefix="helmroom-mutants-")
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings.test"

    import pytest

    from tests.mutants.changes import changes_of, drawn
    from tests.mutants.report import PAGE, Report, Result, on_the_page, reasons
    from tests.mutants.run import MutantRun, paths_of
    from tests.mutants.targets import targets

    known = on_the_page(PAGE.read_text())
    chosen = {}
    for target in targets():
        if asked.modules and not any(_means(module, target.path) for module in asked.modules):
            continue
        changes = [one for one in changes_of(target.source, words=target.words) if asked.only in one.name]
        if asked.again:
            survivors = known[target.path].survivors if target.path in known else []
            chosen[target] = [one for one in changes if one.name in survivors]
        else:
            chosen[target] = drawn(changes, None if asked.all else asked.most, asked.seed)
    chosen = {target: changes for target, changes in chosen.items() if changes}
    if not chosen:
        print("There is nothing to change in those; tests/mutants/targets.py has the list.")
        return 2

    def keep(result: Result) -> None:
        """On the page at once: a run may be stopped half way."""
        if asked.again:
            before = known[result.path]
            result.made, result.seconds = before.made, before.seconds
            tried = {one.name for target, changes in chosen.items() if target.path == result.path for one in changes}
            result.survivors += [name for name in before.survivors if name not in tried]  # the code there has changed
        if asked.again or asked.write:
            page = PAGE.read_text()
            everything = on_the_page(page) | {result.path: result}
            kept = [everything[target.path] for target in targets() if target.path in everything]
            PAGE.write_text(Report(kept, reasons()).written(page))

    run = MutantRun(chosen, keep)
    options = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-seed=0", "-m", AT_HAND]
    pytest.main([*options, *(asked.tests or paths_of(chosen))], plugins=[run])
    for test, why in run.set_aside.items():
        print(f"{test} fails without any change and was left out:\n{why}")
    report = Report(run.results, reasons())
    print(report.text())
    names = {(target.path, one.name) for target in targets() for one in changes_of(target.source, words=target.words)}
    for path, name in sorted(set(report.why) - names):
        print(f"A reason is given for a change that is no longer there: {path}: {name}")
    return 0 if report.holds() and not run.set_aside else 1


def _means(asked: str, path: str) -> bool:
    """A module itself, a pattern of modules, or the folder that holds it."""
    return fnmatch.fnmatch(path, asked) or path.startswith(asked.rstrip("/") + "/")


if __name__ == "__main__":
    sys.exit(main())
