"""Running tests against a faulty module, each time in a fork of its own.

A fault inside a function is tried in a fork of a process that has loaded the project and collected the tests, but run
none: the function gets its faulty code there. A fault in what runs while a module is loaded is tried in a fork of a
process that has loaded the libraries only, and takes a second or two more.
"""

from __future__ import annotations

import gc
import importlib.abc
import importlib.machinery
import importlib.util
import inspect
import os
import pickle
import resource
import signal
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import coverage
import pytest
from hypothesis import HealthCheck, Phase, settings

LOADED_FIRST = ("numpy", "pandas", "pydantic", "networkx", "ortools.sat.python.cp_model", "sqlalchemy", "ruamel.yaml")
QUIET = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:randomly", "-o", "addopts=")


SHOWN = os.dup(sys.stderr.fileno())
"""Where the course of a run is shown, also from within forks, which say nothing else."""
LEFT_OUT = 98
"""Exit code of a fork that did not try its fault."""


@dataclass(frozen=True, slots=True)
class Reached:
    """Which tests of some files run which lines, and how much processor time each takes [s]."""

    seconds: dict[str, float]
    by_line: dict[str, dict[int, frozenset[str]]]
    """By path of a module and line; '' stands for what runs outside of tests, while modules are loaded."""


@dataclass(frozen=True, slots=True)
class Trial:
    """A faulty module, the tests that may find it, and the processor time they may take [s]."""

    name: str
    path: str
    source: str
    tests: tuple[str, ...]
    seconds: float


def module_name(path: str) -> str:
    """Return the dotted name of a source file given from the project's root."""
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


class _Loader(importlib.abc.InspectLoader):
    def __init__(self, path: str, source: str) -> None:
        self._path, self._source = path, source

    def get_source(self, fullname: str) -> str:
        return self._source

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._source, os.path.abspath(self._path), "exec", dont_inherit=True)


class Mutated(importlib.abc.MetaPathFinder):
    """Finds one module with other source than its file has."""

    def __init__(self, path: str, source: str) -> None:
        self._name, self._path, self._source = module_name(path), path, source

    def find_spec(
        self, fullname: str, path: object, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Return the spec of the changed module, and leave every other to Python."""
        if fullname != self._name:
            return None
        spec = importlib.util.spec_from_file_location(fullname, self._path, loader=_Loader(self._path, self._source))
        if spec is not None and self._path.endswith("__init__.py"):
            spec.submodule_search_locations = [os.path.dirname(os.path.abspath(self._path))]
        return spec


class _Watch:
    """Notes what each test takes and which lines it runs."""

    def __init__(self, cov: coverage.Coverage) -> None:
        self._cov, self.seconds, self.failed = cov, dict[str, float](), list[str]()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item):  # type: ignore[no-untyped-def]
        """Measure one test with its fixtures."""
        self._cov.switch_context(item.nodeid)
        began = _processor_seconds()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = _processor_seconds() - began
            self._cov.switch_context("")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note a failure."""
        if report.failed:
            self.failed.append(f"{report.nodeid}: {report.longreprtext[-200:]}")


def _processor_seconds() -> float:
    """Return the processor time of this process and those it started: the same however busy the machine is."""
    return sum(os.times()[:4])


def load_libraries() -> None:
    """Load what every fork needs and no fault changes; nothing of this project."""
    for name in LOADED_FIRST:
        importlib.import_module(name)
    settings.register_profile(
        "mutation",
        derandomize=True,
        database=None,
        deadline=None,
        phases=(Phase.explicit, Phase.generate),
        suppress_health_check=list(HealthCheck),
    )
    settings.load_profile("mutation")


def reached(files: Sequence[str], modules: Sequence[str]) -> Reached:
    """Run test files once without a fault; raises RuntimeError when a test fails."""
    with tempfile.NamedTemporaryFile() as answer:
        pid = _fork(lambda: _measure(files, modules, answer.name))
        _, status = os.waitpid(pid, 0)
        if os.waitstatus_to_exitcode(status) != 0:
            said = Path(answer.name).read_text(encoding="utf-8", errors="replace")[:2000]
            raise RuntimeError(f"the tests fail without any fault: {said}")
        return pickle.loads(Path(answer.name).read_bytes())


def _measure(files: Sequence[str], modules: Sequence[str], answer: str) -> int:
    cov = coverage.Coverage(data_file=None, include=[os.path.abspath(m) for m in modules], config_file=False)
    watch = _Watch(cov)
    cov.start()
    code = pytest.main([*QUIET[:1], *QUIET[2:], "-m", "not benchmark", *files], plugins=[watch])
    cov.stop()
    if code != 0:
        Path(answer).write_text(f"exit {code}: " + ", ".join(watch.failed))
        return 1
    data = cov.get_data()
    by_line = {
        m: {n: frozenset(tests) for n, tests in data.contexts_by_lineno(os.path.abspath(m)).items()} for m in modules
    }
    Path(answer).write_bytes(pickle.dumps(Reached(watch.seconds, by_line)))
    return 0


def found(trials: Sequence[Trial], workers: int) -> list[bool]:
    """Return for each trial whether a test fails or the time is used up; `workers` are tried at once."""
    results: dict[int, bool] = {}
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "results"
        files = sorted({t.partition("::")[0] for trial in trials for t in trial.tests})
        pid = _fork(lambda: int(pytest.main([*QUIET, "-s", *files], plugins=[_Swapping(trials, workers, answer)])))
        os.waitpid(pid, 0)
        if not answer.exists():
            raise RuntimeError("a test fails in a fork without any fault, so that every fault would seem to be found")
        results |= pickle.loads(answer.read_bytes())
        rest = [(n, t) for n, t in enumerate(trials) if n not in results]
        results |= _each(rest, workers, _loaded_anew)
    return [results[n] for n in range(len(trials))]


def _each(trials: Sequence[tuple[int, Trial]], workers: int, run: Callable[[Trial], int | None]) -> dict[int, bool]:
    """Run trials in forks, some at once; a trial that returns None instead of a code is left out."""
    results: dict[int, bool] = {}
    running: dict[int, int] = {}
    names = {number: trial.name for number, trial in trials}

    def ended() -> None:
        pid, status = os.wait()
        number, code = running.pop(pid), os.waitstatus_to_exitcode(status)
        if code != LEFT_OUT:
            results[number] = code != 0
            os.write(SHOWN, b"." if code else f"\n? {names[number]}\n".encode())

    for number, trial in trials:
        if len(running) >= workers:
            ended()
        running[_fork(lambda trial=trial: _limited(trial, run))] = number
    while running:
        ended()
    return results


def _limited(trial: Trial, run: Callable[[Trial], int | None]) -> int:
    resource.setrlimit(resource.RLIMIT_CPU, (int(trial.seconds) + 1, int(trial.seconds) + 2))
    signal.alarm(int(4 * trial.seconds) + 30)
    code = run(trial)
    return LEFT_OUT if code is None else code


def _loaded_anew(trial: Trial) -> int:
    """Run tests with a faulty module, from the loading of the project on."""
    sys.meta_path.insert(0, Mutated(trial.path, trial.source))
    files = dict.fromkeys(t.partition("::")[0] for t in trial.tests)
    return int(pytest.main([*QUIET, "-s", *files], plugins=[_Chosen(trial.tests)]))


def _ordered(items: Sequence[pytest.Item], tests: Iterable[str]) -> list[pytest.Item]:
    place = {test: n for n, test in enumerate(tests)}
    return sorted((i for i in items if i.nodeid in place), key=lambda i: place[i.nodeid])


class _Chosen:
    """Runs the chosen tests only, in their order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self._tests = tests

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep and sort the chosen tests."""
        items[:] = _ordered(items, self._tests)


class _Swapping:
    """Runs the tests of every trial whose fault lies in functions, in forks made once all tests are collected."""

    def __init__(self, trials: Sequence[Trial], workers: int, answer: Path) -> None:
        self._trials, self._workers, self._answer = trials, workers, answer

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try the faults instead of running the tests once."""
        live = _functions({os.path.abspath(t.path) for t in self._trials})
        sound = {p: Path(p).read_text(encoding="utf-8") for p in {t.path for t in self._trials}}

        def tested(tests: Iterable[str]) -> int:
            items = _ordered(session.items, tests)
            for item, following in zip(items, [*items[1:], None], strict=True):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if session.testsfailed:
                    return 1
            return 0

        _, status = os.waitpid(_fork(lambda: tested({t for trial in self._trials for t in trial.tests})), 0)
        if status:
            return True

        def run(trial: Trial) -> int | None:
            return tested(trial.tests) if _swap(trial, sound[trial.path], live) else None

        self._answer.write_bytes(pickle.dumps(_each(list(enumerate(self._trials)), self._workers, run)))
        return True


Key = tuple[str, str, int]


def _functions(files: set[str]) -> dict[Key, list[FunctionType]]:
    """Return the functions of some files that are alive, by file, name and first line."""
    found: dict[Key, list[FunctionType]] = {}
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename in files:
            code = thing.__code__
            found.setdefault((code.co_filename, code.co_qualname, code.co_firstlineno), []).append(thing)
    return found


def _codes(code: CodeType) -> Iterator[tuple[Key, CodeType]]:
    """Yield the functions of a module's or a class's code that are made when it is loaded."""
    for inner in (c for c in code.co_consts if isinstance(c, CodeType)):
        if inner.co_flags & inspect.CO_OPTIMIZED:
            yield (inner.co_filename, inner.co_qualname, inner.co_firstlineno), inner
        else:
            yield from _codes(inner)


def _swap(trial: Trial, sound: str, live: dict[Key, list[FunctionType]]) -> bool:
    """Give live functions their faulty code; False, and nothing is done, when the fault lies outside of them."""
    path = os.path.abspath(trial.path)
    good, faulty = (compile(text, path, "exec", dont_inherit=True) for text in (sound, trial.source))
    known = dict(_codes(good))
    changed = {key: code for key, code in _codes(faulty) if code != known.get(key)}
    if not changed or any(key not in live for key in changed):
        return False
    for key, code in changed.items():
        for function in live[key]:
            function.__code__ = code
    return True


def _fork(run: Callable[[], int]) -> int:
    pid = os.fork()
    if pid:
        return pid
    code = 99
    try:
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        code = run()
    finally:
        os._exit(code)
