"""``python -m tests.mutants [PATH ...]``: the table of what the tests notice."""

from __future__ import annotations

import argparse
import fnmatch
import os
import resource
import sys
import tempfile


def main() -> int:
    """Nought when the measure holds: enough killed, and a reason for each survivor."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument(
        "paths", nargs="*", help="modules to change, as paths or patterns; all of them when none is given"
    )
    parser.add_argument("--most", type=int, default=40, help="changes of a module at most, drawn by lot (default 40)")
    parser.add_argument("--all", action="store_true", help="every change")
    parser.add_argument("--seed", default="1", help="of the lot")
    parser.add_argument("--only", default="", help="only changes whose name holds this text")
    parser.add_argument("--write", action="store_true", help="write the rows into docs/mutants.md")
    asked = parser.parse_args()
    # Examples that fail because of a change are not to be tried first in later runs of the suite.
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = tempfile.mkdtemp(prefix="helmroom-mutants-")
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings.test"

    import pytest

    from tests.mutants.report import Report
    from tests.mutants.run import MutantRun, paths_of
    from tests.mutants.targets import targets

    chosen = [
        target for target in targets() if not asked.paths or any(_means(path, target.path) for path in asked.paths)
    ]
    if not chosen:
        print("No such module is among those that are changed; see tests/mutants/targets.py.")
        return 2
    run = MutantRun(chosen, None if asked.all else asked.most, asked.seed, asked.only)
    options = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-seed=0", "-m", AT_HAND]
    pytest.main([*options, *paths_of(chosen)], plugins=[run])
    for test, why in run.set_aside.items():
        print(f"{test} fails without any change and was left out:\n{why}")
    used = sum(resource.getrusage(who).ru_utime for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    report = Report(run.tried, used)
    if asked.write:
        report.write()
    print(report.text())
    return 0 if report.holds() and not run.set_aside else 1


def _means(asked: str, path: str) -> bool:
    """A module itself, a pattern of modules, or the folder that holds it."""
    return fnmatch.fnmatch(path, asked) or path.startswith(asked.rstrip("/") + "/")


#: What needs a browser or another server is no part of a module's own tests.
AT_HAND = "not browser and not redis and not postgres"

if __name__ == "__main__":
    sys.exit(main())
