"""Work on whole lines: order of laying, proving conduit runs, pulling conductors, tests after cover."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduler.network.kind import Kind
from scheduler.network.line_ends import loose_ends
from scheduler.network.line_tests import build_line_tests
from scheduler.network.network_draft import COMMON, SITE_FILE, NetworkDraft, Place
from scheduler.network.pieces import Interval, overlap
from scheduler.network.setting import GRAVITY, LayGroup, Made, PieceWork, Setting, is_conduit
from scheduler.site.ground import Alignment, Line, Structure
from scheduler.trench.conduit import pulls_of
from scheduler.trench.pulling import pull_forces
from scheduler.units import TOUCH_FT, format_amount, format_length

PULL_POINTS = ("pull_box", "handhole", "vault", "manhole", "pedestal", "panel", "pad", "light", "meter")
PULL_POINT_FT = 0.5
"""Lengths that differ by less are of one pull."""
SAME_LEVEL_IN = 3.0
"""Lines whose bottoms lie within this are at one level."""


@dataclass(frozen=True, slots=True)
class PullRun:
    """A conduit between two pull points: its parts as (alignment, from, to) [ft]."""

    parts: tuple[tuple[str, float, float], ...]

    @property
    def place(self) -> Place:
        """Where it runs: no reach, and the stations of its first alignment."""
        alignment = self.parts[0][0]
        here = [(lo, hi) for on, lo, hi in self.parts if on == alignment]
        return Place("", alignment, min(lo for lo, _ in here), max(hi for _, hi in here))

    def touches(self, structure: Structure) -> bool:
        """Return whether a structure stands on the run or at its end."""
        return any(
            structure.alignment == on and lo - TOUCH_FT <= structure.station <= hi + TOUCH_FT
            for on, lo, hi in self.parts
        )

    @property
    def feet(self) -> float:
        """Length along the trench [ft]."""
        return sum(hi - lo for _, lo, hi in self.parts)


def runs_of(line: Line, structures: Iterable[Structure]) -> list[PullRun]:
    """Return the runs of a line between the pull points on its route, in order of the route."""
    points = [s for s in structures if line.id in s.lines and s.kind in PULL_POINTS]
    runs: list[list[tuple[str, float, float]]] = [[]]
    for n, stretch in enumerate(line.route):
        here = sorted(s.station for s in points if s.alignment == stretch.alignment)
        lo, hi = sorted((stretch.from_, stretch.to))
        inside = [at for at in here if lo + TOUCH_FT < at < hi - TOUCH_FT]
        if n and any(abs(at - stretch.from_) <= TOUCH_FT for at in here):
            runs.append([])
        cuts = [lo, *inside, hi]
        parts = [(stretch.alignment, a, b) for a, b in itertools.pairwise(cuts)]
        if stretch.from_ > stretch.to:
            parts.reverse()
        runs[-1].append(parts[0])
        runs.extend([part] for part in parts[1:])
        if n + 1 < len(line.route) and any(abs(at - stretch.to) <= TOUCH_FT for at in here) and runs[-1]:
            runs.append([])
    return [PullRun(tuple(parts)) for parts in runs if parts]


def build_lines(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the work on whole lines, and the order in which lines are laid."""
    structures_of: dict[str, list[Structure]] = {}
    for structure in setting.site.structures:
        for line_id in structure.lines:
            structures_of.setdefault(line_id, []).append(structure)
    for line in setting.site.lines:
        if line.id not in made.line_groups:
            continue
        if line.kind in GRAVITY:
            _upgrade(setting, draft, made, line)
        if is_conduit(line):
            _runs(setting, draft, made, line, structures_of.get(line.id, []))
        build_line_tests(setting, draft, made, line)
    for branch in setting.site.alignments:
        if branch.leaves:
            _crossings(setting, draft, made, branch)


def _lays(made: Made, line: str, reach: str) -> list[str]:
    return [group.lays[line] for group in made.reaches[reach].groups if line in group.lays]


def _upgrade(setting: Setting, draft: NetworkDraft, made: Made, line: Line) -> None:
    """Lay a pipe that falls to one end from that end up."""
    for lower, upper in itertools.pairwise(setting.upgrade(line)):
        for before in _lays(made, line.id, lower):
            for after in _lays(made, line.id, upper):
                draft.link(
                    before,
                    after,
                    because=f"Laid upgrade from the low end, each pipe into the one below: {line.name}.",
                    source=COMMON,
                )


def _crossings(setting: Setting, draft: NetworkDraft, made: Made, branch: Alignment) -> None:
    """Where a branch leaves, lay what runs lower before what runs higher across it."""
    assert branch.leaves
    station, ground = branch.leaves.station, setting.ground
    mains = [r.id for r in ground.along(branch.leaves.alignment, station, station)]
    through = {line for line in {k for r in mains for k in ground.spans[r]} if _passes(setting, mains, line, station)}
    for first in ground.along(branch.id, 0.0, 0.0):
        for leaving, spans in ground.spans[first.id].items():
            if spans[0][0] > TOUCH_FT:
                continue
            for main in mains:
                for crossed in ground.spans[main]:
                    if crossed in through and crossed != leaving:
                        _lower_first(setting, draft, made, (first.id, leaving), (main, crossed))


def _passes(setting: Setting, reaches: Sequence[str], line: str, station: float) -> bool:
    spans: list[Interval] = [s for r in reaches for s in setting.ground.spans[r].get(line, ())]
    return min(lo for lo, _ in spans) < station - TOUCH_FT and max(hi for _, hi in spans) > station + TOUCH_FT


def _lower_first(setting: Setting, draft: NetworkDraft, made: Made, one: tuple[str, str], two: tuple[str, str]) -> None:
    a, b = setting.placed.get(one), setting.placed.get(two)
    if a is None or b is None or abs(a.bottom_in - b.bottom_in) <= SAME_LEVEL_IN:
        return
    low, high = (one, two) if a.bottom_in > b.bottom_in else (two, one)
    names = [setting.ground.lines[line].name for _, line in (low, high)]
    because = f"At their crossing the lower is laid first: {names[0]} below, {names[1]} above."
    for before in _lays(made, low[1], low[0]):
        for after in _lays(made, high[1], high[0]):
            draft.link(before, after, because=because)


def _within(setting: Setting, made: Made, run: PullRun, line: str) -> tuple[list[LayGroup], list[PieceWork]]:
    """Return the lay groups of a line and the pieces that a run goes through."""
    groups: list[LayGroup] = []
    pieces: list[PieceWork] = []
    for alignment, lo, hi in run.parts:
        for reach in setting.ground.along(alignment, lo, hi):
            if not overlap((lo, hi), (reach.from_, reach.to)):
                continue
            work = made.reaches[reach.id]
            groups += [g for g in work.groups if line in g.lays and g not in groups]
            pieces += [p for p in work.pieces if overlap((lo, hi), (p.piece.from_ft, p.piece.to_ft))]
    return groups, pieces


def _runs(setting: Setting, draft: NetworkDraft, made: Made, line: Line, structures: list[Structure]) -> None:
    mandrel = bool(line.test and line.test.kind == "mandrel")
    string = line.pull_string if line.pull_string is not None else not line.conductors
    pulled_by_others = any(w.kind == "pull_service" and line.id in w.lines for w in setting.site.outside_work)
    runs = runs_of(line, structures)
    for n, run in enumerate(runs, 1):
        tail = f", run {n} of {len(runs)}" if len(runs) > 1 else ""
        suffix = f"-{n}" if len(runs) > 1 else ""
        groups, pieces = _within(setting, made, run, line.id)
        later = frozenset().union(*(g.later for g in groups))
        ends = [s for s in structures if run.touches(s) and s.id in made.structures]
        stands = loose_ends(run.parts, setting.branches)
        if mandrel or string:
            proof = _prove(setting, draft, line, run, suffix, tail, mandrel=mandrel, string=string)
            made.proofs.setdefault(line.id, []).append(proof)
            made.waits[proof] = later
            draft.stands[proof] = stands
            _after_run(draft, made, line, proof, groups, pieces, ends, shaded=mandrel)
        if line.conductors and not pulled_by_others:
            pull = _pull(setting, draft, line, run, suffix, tail)
            made.pulls.setdefault(line.id, []).append(pull)
            made.waits[pull] = later
            draft.stands[pull] = stands
            if mandrel or string:
                draft.link(made.proofs[line.id][-1], pull, because="A conduit is proved before conductors go in.")
            else:
                _after_run(draft, made, line, pull, groups, pieces, ends, shaded=False)
            for work in pieces:
                if not work.piece.keeps:
                    draft.link(work.covered, pull, because="Conductors are pulled once the conduit is covered.")


def _prove(
    setting: Setting,
    draft: NetworkDraft,
    line: Line,
    run: PullRun,
    suffix: str,
    tail: str,
    *,
    mandrel: bool,
    string: bool,
) -> str:
    does = " and ".join(
        text for text, yes in (("Pull a mandrel through", mandrel), ("leave a pull string in", string)) if yes
    )
    rates = setting.site.rates
    set_up = line.test.set_up_hours if mandrel and line.test else rates.prove_set_up_hours
    return draft.add(
        f"line/{line.id}/prove{suffix}",
        f"{does[0].upper()}{does[1:]} {line.name}{tail}",
        Kind.PROVE,
        set_up + run.feet / rates.prove_ft_per_hour,
        setting.crew(line.trade, None),
        because=f"Shows {format_length(run.feet)} of {line.name} to be clear from pull point to pull point.",
        source=f"{SITE_FILE}: lines; rate {rates.cited('prove_ft_per_hour')}",
        place=run.place,
        lines=[line.id],
        one_window=True,
    )


def _pull(setting: Setting, draft: NetworkDraft, line: Line, run: PullRun, suffix: str, tail: str) -> str:
    rates = setting.site.rates
    pulls = [p for p in pulls_of(line, setting.site.structures) if abs(p.length_ft - run.feet) < PULL_POINT_FT]
    taken = pull_forces(line, pulls[0]) if pulls else None
    hard = f" It takes about {format_amount(taken.tension_lb, 'lb')} at the rope from the better end." if taken else ""
    return draft.add(
        f"line/{line.id}/pull{suffix}",
        f"Pull the conductors of {line.name}{tail}",
        Kind.PULL,
        rates.pull_set_up_hours + run.feet / rates.pull_ft_per_hour,
        setting.crew(line.trade, None),
        because=f"Conductors go into {format_length(run.feet)} of {line.name} in one pull.{hard}",
        source=f"{SITE_FILE}: lines, conductors; rate {rates.cited('pull_ft_per_hour')}",
        place=run.place,
        lines=[line.id],
        one_window=True,
    )


def _after_run(
    draft: NetworkDraft,
    made: Made,
    line: Line,
    id_: str,
    groups: list[LayGroup],
    pieces: list[PieceWork],
    ends: list[Structure],
    *,
    shaded: bool,
) -> None:
    """Let work on a run wait until it is complete from end to end, and shaded if asked."""
    for group in groups:
        over = [work.shades[group.layer] for work in pieces if work.piece in group.pieces and not work.piece.keeps]
        for shade in over if shaded else ():
            draft.link(
                shade, id_, because="The mandrel goes through after shading, which may have pressed the conduit."
            )
        if not (shaded and over):
            draft.link(group.lays[line.id], id_, because=f"The run is laid from end to end first: {line.name}.")
    for end in ends:
        because = f"{end.name} stands, so the run ends where it will be used."
        draft.link(made.structures[end.id], id_, because=because)
