"""The one door: its verbs stay functions, its names have types, and screens and commands come in through it."""

from __future__ import annotations

import ast
import pkgutil
import subprocess
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

import scheduler

ROOT = Path(__file__).parents[2]
VERBS = ("load", "check", "plan", "audit", "explain", "replan", "journal", "export", "today", "choices")
FRONTS = {
    "scheduler",
    "scheduler.explain",
    "scheduler.export",
    "scheduler.ledger",
    "scheduler.plan",
    "scheduler.replan",
    "scheduler.site",
    "scheduler.site.editor",
    "scheduler.situation",
    "scheduler.spoken",
    "scheduler.trench",
    "scheduler.units",
}
"""The door and the fronts of the parts: all that the dashboard may import."""
OF_COMMANDS = {
    "scheduler.dates_csv",
    "scheduler.ledger.keeping",
    "scheduler.published.bench",
    "scheduler.reading",
    "scheduler.whole_files",
}
"""What the command line needs beside them."""


def imported(folder: str, own: str) -> Iterator[str]:
    """Yield the modules of the scheduler that files of a folder import, but for their own package."""
    for path in (ROOT / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else names
            yield from (n for n in names if n.split(".")[0] == "scheduler" and not n.startswith(own))


def test_screens_come_in_through_the_door_and_the_fronts() -> None:
    assert set(imported("app", "app")) == FRONTS
    assert len(FRONTS) <= 12


def test_commands_come_in_through_the_door_and_the_fronts() -> None:
    assert set(imported("scheduler/cli", "scheduler.cli")) <= FRONTS | OF_COMMANDS


def test_parts_import_from_files_not_from_fronts() -> None:
    """So that no front is needed before it is whole."""
    taken = []
    for path in (ROOT / "scheduler").rglob("*.py"):
        if path.parent.name == "cli":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module in FRONTS:
                offered = getattr(import_module(node.module), "__all__", ())
                taken += [f"{path.name}: {node.module}.{a.name}" for a in node.names if a.name in offered]
    assert not taken


@pytest.mark.parametrize("first", ["scheduler.audit.sharing_checks", "scheduler.plan"])
def test_verbs_stay_functions_whatever_is_imported(first: str) -> None:
    """Some have the name of a package, which an import could put in their place."""
    modules = [m.name for m in pkgutil.walk_packages(scheduler.__path__, "scheduler.")]
    assert {"scheduler.audit", "scheduler.explain", "scheduler.export", "scheduler.plan"} < set(modules)
    program = f"""
import importlib, inspect
for name in {[first, *modules]}:
    importlib.import_module(name)
import scheduler, scheduler.audit.audit_facts, scheduler.plan, scheduler.explain.chain
from scheduler import {", ".join(VERBS)}
from scheduler.export import look_ahead
for name in {VERBS}:
    assert inspect.isfunction(getattr(scheduler, name)), name
    assert globals()[name] is getattr(scheduler, name), name
"""
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_the_door_has_what_it_says_and_nothing_twice() -> None:
    assert len(set(scheduler.__all__)) == len(scheduler.__all__)
    assert set(VERBS) < set(scheduler.__all__)
    for name in scheduler.__all__:
        assert getattr(scheduler, name).__doc__, name
    for front in FRONTS - {"scheduler", "scheduler.plan", "scheduler.spoken", "scheduler.units"}:
        module = import_module(front)
        assert len(set(module.__all__)) == len(module.__all__)
        assert all(hasattr(module, name) for name in module.__all__)
