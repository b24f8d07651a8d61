"""``python -m tests.busy [WHAT PYTEST TAKES]``: the suite on a machine that has eight other things to do.

Eight processes count as fast as they can while the tests run; they end with them, whatever happens, and by themselves
when this process is gone or after LONGEST_H hours.
"""

from __future__ import annotations

import os
import subprocess
import sys

HOW_MANY = 8
LONGEST_H = 6
#: How much longer to wait than usual: eight and the suite share what the suite has alone otherwise.
PATIENCE = 6
COUNT = """
import os, sys, time
parent, ends = int(sys.argv[1]), time.monotonic() + float(sys.argv[2])
while time.monotonic() < ends and os.getppid() == parent:
    for _ in range(1_000_000):
        pass
"""


def main(arguments: list[str]) -> int:
    own = [str(os.getpid()), str(3600 * LONGEST_H)]
    busy = [subprocess.Popen([sys.executable, "-c", COUNT, *own]) for _ in range(HOW_MANY)]
    try:
        env = {"HELMROOM_PATIENCE": str(PATIENCE)} | os.environ
        return subprocess.call([sys.executable, "-m", "pytest", "-o", f"timeout={900 * PATIENCE}", *arguments], env=env)
    finally:
        for process in busy:
            process.kill()
        for process in busy:
            process.wait()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
