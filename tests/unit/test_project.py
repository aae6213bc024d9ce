"""The project's own rules about itself: style, types, imports, sizes, and what CI runs."""

import ast
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOOLS = Path(sys.executable).parent


def tracked(*patterns: str) -> list[Path]:
    if not (ROOT / ".git").exists() or not shutil.which("git"):
        pytest.skip("not a git checkout")
    out = subprocess.run(["git", "ls-files", *patterns], cwd=ROOT, capture_output=True, text=True, check=True)
    return [ROOT / name for name in out.stdout.splitlines() if (ROOT / name).is_file()]


@pytest.mark.parametrize(
    "command",
    [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"], ["lint-imports", "--no-cache"]],
    ids=lambda c: " ".join(c[:2]),
)
def test_tool_finds_nothing(command: list[str]) -> None:
    done = subprocess.run([str(TOOLS / command[0]), *command[1:]], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_ci_runs_the_command_of_the_readme() -> None:
    blocks = re.findall(r"```sh\n(.+?)\n```", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(blocks) == 2, "the README gives two commands and no more"
    assert blocks[1] in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_files_can_be_read_in_a_sitting() -> None:
    long = {p.name: n for p in tracked("*.py") if (n := p.read_text(encoding="utf-8").count("\n")) > 400}
    assert not long


def test_functions_fit_a_screen() -> None:
    long = []
    for path in tracked("scheduler/*.py", "app/*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                size = (node.end_lineno or 0) - node.lineno + 1
                if size > 70:
                    long.append(f"{path.name}:{node.lineno} {node.name} ({size} lines)")
    assert not long


SAME_NAME = {"CurvePoint", "Hours", "Piece", "Stage"}
"""Classes of the solver that share a name with one of plan.json, of the network, or of another room."""
SAME_FILE = {"__init__.py", "main.py", "conflicts.py", "editor.py", "inspections.py", "schedule.py"}
"""Pages of the dashboard that show what a file of that name works out, and where both programs begin."""


def test_a_class_name_and_a_file_name_mean_one_thing() -> None:
    paths = tracked("scheduler/*.py", "app/*.py")
    trees = (ast.parse(p.read_text(encoding="utf-8")) for p in paths)
    classes = Counter(n.name for tree in trees for n in ast.walk(tree) if isinstance(n, ast.ClassDef))
    files = Counter(p.name for p in paths)
    assert {name for name, n in classes.items() if n > 1} <= SAME_NAME
    assert {name for name, n in files.items() if n > 1} <= SAME_FILE


def test_top_level_holds_what_it_should() -> None:
    top = {p.relative_to(ROOT).parts[0] for p in tracked()}
    assert {n for n in top if not n.startswith(".")} == {
        "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE", "app", "scheduler", "tests", "scenarios",
    }  # fmt: skip
