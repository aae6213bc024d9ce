"""What the README says of use from Python: its examples run, and their types hold against the installed wheel."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```python\n(.+?)```", README, re.DOTALL)


def run(*command: str | Path, cwd: Path) -> str:
    done = subprocess.run([str(c) for c in command], cwd=cwd, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_examples_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    for example in EXAMPLES:
        exec(compile(example, "README.md", "exec"), names)
    said = capsys.readouterr().out
    assert "Found 'four'; expected a positive number." in said
    assert "finish: 22.5833, proved no better than 22.5833" in said
    assert names["plan"].status == "optimal"
    assert names["why"].story(names["last"].id)[0] in said
    assert all(broken.text in said for broken in names["scheduler"].audit(names["case"], names["changed"]))
    assert {name.rpartition(".")[2] for name in names["files"]} == {"pdf", "ics", "csv"}
    assert all((tmp_path / name).read_bytes() == content for name, content in names["files"].items())


def test_the_door_tells_every_verb_of_the_readme() -> None:
    listed = re.search(r"`import scheduler` is the one door: (.+?), and the\n", README)
    assert listed is not None
    verbs = re.findall(r"`(\w+)`", listed[1])
    assert set(verbs) == {"load", "check", "plan", "audit", "explain", "replan", "journal", "export"}
    assert all(f"scheduler.{verb}(" in "\n".join(EXAMPLES) for verb in verbs)


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the Python of a new environment in which the built wheel is installed, beside what it depends on."""
    place = tmp_path_factory.mktemp("wheel")
    source = place / "source"
    # Built from a copy: a build leaves files beside what it builds.
    for part in ("app", "scheduler", "scenarios"):
        shutil.copytree(ROOT / part, source / part, ignore=shutil.ignore_patterns("__pycache__", "*.db*"))
    for part in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / part, source / part)
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    run(*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", place, source, cwd=place)
    (wheel,) = place.glob("*.whl")
    venv.create(place / "new", with_pip=False)
    python = place / "new" / "bin" / "python"
    run(*pip, "--python", python, "install", "--no-deps", wheel, cwd=place)
    (packages,) = (place / "new" / "lib").glob("python*/site-packages")
    (packages / "dependencies.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return python


def test_a_program_is_checked_against_the_types_of_the_wheel(installed: Path, tmp_path: Path) -> None:
    example, wrong = tmp_path / "example.py", tmp_path / "wrong.py"
    example.write_text("\n".join(EXAMPLES) + "\nreveal_type(found)\nreveal_type(scheduler.audit)\n", encoding="utf-8")
    wrong.write_text("import scheduler\n\nscheduler.plan(3)\n", encoding="utf-8")
    mypy = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", "cache", "--python-executable", str(installed)]
    told = subprocess.run([*mypy, example.name, wrong.name], cwd=tmp_path, capture_output=True, text=True).stdout
    assert re.search(r'type is "scheduler\.replan\.\w+\.Replanning"', told), told
    assert "-> list[scheduler.findings.Finding]" in told.replace("builtins.", "")
    assert 'wrong.py:3: error: Argument 1 to "plan" has incompatible type "int"; expected "Case"' in told
    assert "Found 1 error in 1 file (checked 2 source files)" in told


def test_the_wheel_brings_its_sites(installed: Path, tmp_path: Path) -> None:
    program = "import scheduler; print(scheduler.__file__, *map(scheduler.load, scheduler.bundled_sites().values()))"
    said = run(installed, "-c", program, cwd=tmp_path)
    assert said.startswith(str(installed.parents[1]))
    assert Path(said.split()[0]).with_name("py.typed").is_file(), "its types hold for programs that import it"
