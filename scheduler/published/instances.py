"""Published scheduling instances as networks: project (PSPLIB, Patterson) and job-shop files.

Time is abstract: one clock tick is one unit of the instance, and everything is always open.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psplib

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Link, Network, Resource
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock

ALWAYS = "always"
FORMATS = {".sm": "psplib", ".rcp": "patterson"}


def read_instances(path: str) -> Iterator[Network]:
    """Yield the networks of a file or a folder of files, by name.

    `FILE:NAME,NAME` picks from a collection of job-shop instances. Raises BadInput when the
    path holds no instance this program reads.
    """
    head, _, names = path.partition(":") if not Path(path).exists() else (path, "", "")
    place = Path(head)
    files = sorted(p for p in place.iterdir() if p.suffix in (*FORMATS, ".json")) if place.is_dir() else [place]
    if not files:
        raise _refused(path, "a folder without .sm, .rcp or .json files")
    for file in files:
        if file.suffix in FORMATS:
            yield read_project(file)
        else:
            yield from read_job_shops(file, [n for n in names.split(",") if n])


def read_project(path: Path) -> Network:
    """Read one project instance (.sm or .rcp) with renewable resources and one mode an activity."""
    try:
        instance = psplib.parse(path, instance_format=FORMATS[path.suffix])
    except (ValueError, IndexError, StopIteration) as error:
        raise _refused(str(path), str(error) or "no readable instance") from None
    if any(len(a.modes) != 1 for a in instance.activities):
        raise _refused(str(path), "activities with several modes")
    resources = [Resource(f"r{i}", f"Resource {i}", capacity=r.capacity) for i, r in enumerate(instance.resources)]
    activities = [
        _activity(f"a{i}", a.modes[0].duration, [(f"r{k}", n) for k, n in enumerate(a.modes[0].demands) if n])
        for i, a in enumerate(instance.activities)
    ]
    links = [
        Link(f"a{i}>a{j}", f"a{i}", f"a{j}")
        for i, a in enumerate(instance.activities)
        for j in sorted(set(a.successors))
    ]
    return _network(path.stem, activities, links, resources)


def read_job_shops(path: Path, names: Sequence[str] = ()) -> Iterator[Network]:
    """Yield the job shops of a JSON file: one instance, or a collection by name."""
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        shops = {content["name"]: content} if "duration_matrix" in content else dict(content)
    except (ValueError, TypeError, KeyError):
        raise _refused(str(path), "no job-shop JSON") from None
    missing = [n for n in names if n not in shops]
    if missing:
        raise _refused(str(path), f"no instance named {', '.join(missing)}")
    for name in names or shops:
        try:
            network = job_shop(name, shops[name])
        except (ValueError, TypeError, KeyError):
            raise _refused(f"{path}:{name}", "no rows of times and machines of equal length") from None
        yield network


def job_shop(name: str, content: Mapping[str, Any]) -> Network:
    """Return a job shop: each job's operations in order, each on one machine for a time."""
    activities, links = [], []
    machines: set[int] = set()
    for job, (times, order) in enumerate(zip(content["duration_matrix"], content["machines_matrix"], strict=True)):
        for step, (duration, machine) in enumerate(zip(times, order, strict=True)):
            machines.add(machine)
            activities.append(_activity(f"j{job}.{step}", duration, [(f"m{machine}", 1)]))
            if step:
                links.append(Link(f"j{job}.{step - 1}>j{job}.{step}", f"j{job}.{step - 1}", f"j{job}.{step}"))
    resources = [Resource(f"m{m}", f"Machine {m}") for m in sorted(machines)]
    return _network(name, activities, links, resources)


def _activity(name: str, work: int, needs: Sequence[tuple[str, int]]) -> Activity:
    return Activity(name, name, Kind.PLAIN, work, ALWAYS, needs=tuple(needs))


def _network(
    name: str, activities: Sequence[Activity], links: Sequence[Link], resources: Sequence[Resource]
) -> Network:
    horizon = sum(a.work for a in activities) + 1
    clock = Clock(datetime(2000, 1, 1, tzinfo=UTC))
    always = Calendar(ALWAYS, "always open", ((0, horizon),))
    return Network(
        name, clock, 0, horizon, {ALWAYS: always}, tuple(activities), tuple(links), resources=tuple(resources)
    )


def _refused(path: str, found: str) -> BadInput:
    wanted = "a .sm or .rcp project, a job-shop .json, or a folder of them"
    return BadInput([Finding("bench/format", Severity.STOP, path, "cannot be read as an instance.", found, wanted)])
