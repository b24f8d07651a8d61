"""Compile the planner's kernels, once for each version of them."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from config.process.supervisor import follow_parent
from config.process.warm import compile_all
from motion.units import figure
from planning.preparing.kernels import are_compiled, tell_preparation


class Command(BaseCommand):
    help = "Compile the planner's kernels if that has not been done for this version."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--again", action="store_true", help="Even if it has been done.")
        parser.add_argument(
            "--child", action="store_true", help="End with the process that started it (the supervisor)."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["child"]:
            follow_parent()
        if are_compiled() and not options["again"]:
            self.stdout.write("The planner's kernels are compiled already.")
            return
        self.stdout.write("Compiling the planner's kernels (once; a minute or two)...")
        self.stdout.flush()
        before = time.monotonic()
        compile_all(tell_preparation)
        self.stdout.write(f"Compiled in {figure(time.monotonic() - before)} s.")
