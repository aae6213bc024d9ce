"""The ground of a generated site: street trenches with their branches, cut into reaches."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from tests.benchmarks.site_parties import Record

_TREES = ("Alder", "Birch", "Cedar", "Elder", "Hazel", "Larch", "Maple", "Rowan", "Tansy", "Willow")
_PLACES = ("Row", "Walk", "Bank", "Field", "Rise", "Close")


@dataclass(frozen=True, slots=True)
class Run:
    """One alignment: its reach boundaries [ft] and where it leaves another."""

    id: str
    name: str
    ends: tuple[float, ...]
    leaves: tuple[str, float] | None = None

    @property
    def length_ft(self) -> float:
        """Length of the alignment."""
        return self.ends[-1]

    def alignment(self) -> Record:
        """Return its record in the site file."""
        record: Record = {"id": self.id, "name": self.name, "length_ft": self.length_ft}
        if self.leaves:
            record["leaves"] = {"alignment": self.leaves[0], "station": self.leaves[1]}
        return record

    def stretch(self, to_ft: float | None = None) -> Record:
        """Return the stretch from its beginning to a station, or to its end."""
        return {"alignment": self.id, "from": 0.0, "to": self.length_ft if to_ft is None else to_ft}


Group = tuple[Run, ...]
"""A street trench, then its branches."""


def draw_groups(rng: Random, *, reaches: int, branch_share: float) -> list[Group]:
    """Draw streets of 2 to 6 reaches, with up to three branches of 1 or 2, until all reaches are used."""
    groups: list[Group] = []
    left = reaches
    while left:
        number = len(groups)
        street = _run(rng, f"street-{number + 1}", _name(number), min(left, rng.randint(2, 6)))
        left -= len(street.ends) - 1
        group = [street]
        while left and len(group) < 4 and rng.random() < branch_share:
            leaves = (street.id, rng.choice(street.ends[:-1]))
            count = min(left, rng.randint(1, 2))
            group.append(_run(rng, f"{street.id}-b{len(group)}", f"{street.name}, branch {len(group)}", count, leaves))
            left -= count
        groups.append(tuple(group))
    return groups


def _name(index: int) -> str:
    place, tree = divmod(index, len(_TREES))
    rounds, place = divmod(place, len(_PLACES))
    return f"{_TREES[tree]} {_PLACES[place]}" + (f" {rounds + 1}" if rounds else "")


def _run(rng: Random, run_id: str, name: str, reaches: int, leaves: tuple[str, float] | None = None) -> Run:
    ends = [0.0]
    for _ in range(reaches):
        ends.append(ends[-1] + rng.randrange(24, 72, 4))
    return Run(run_id, name, tuple(ends), leaves)


def draw_reaches(rng: Random, run: Run, *, drive_share: float, wet_share: float) -> Iterator[Record]:
    """Draw the reaches of an alignment: soils, surfaces, and drives that may close only at given hours."""
    for number, (begin, end) in enumerate(zip(run.ends, run.ends[1:], strict=False), start=1):
        reach: Record = {"id": f"{run.id}-{number}", "alignment": run.id, "from": begin, "to": end}
        reach |= {
            "bottom_width_in": 48,
            "soil": rng.choice(("A", "B", "B", "C", "unknown")),
            "earth": rng.choice(("common_earth", "common_earth", "sand_gravel", "clay")),
            "surface": rng.choice(("bare", "turf", "turf", "gravel", "asphalt")),
            "spoil": rng.choice(("left", "right", "haul")),
            "groundwater": rng.random() < wet_share,
            "previously_disturbed": rng.random() < wet_share,
        }
        if rng.random() < drive_share:
            hours = rng.choice(("08:00-15:00", "09:00-15:30"))
            reach |= {"surface": "gravel", "place": "residential_drive"}
            reach["access"] = {"what": f"Drive off {run.name}", "closed_only": hours}
        yield reach


def marked_line(rng: Random, reach: Record) -> Record:
    """Draw a line already in the ground, crossed in the middle of a reach."""
    kind, depth_in = rng.choice((("gas", 24), ("communications", 18), ("water", 48)))
    middle = (reach["from"] + reach["to"]) / 2
    line: Record = {"id": f"marked-{reach['id']}", "kind": kind, "depth_in": depth_in}
    return line | {"alignment": reach["alignment"], "station": middle}
