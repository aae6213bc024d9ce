"""What lies where, and what was reported of it, station by station."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from scheduler.ledger.store import Entry
from scheduler.network.model import Activity, Hold, LinkType, Network
from scheduler.site.site_record import Site
from tests.oracle.designs import view_of
from tests.oracle.facts import (
    FILLS,
    HIDES,
    SLACK,
    WORK,
    Fact,
    Question,
    Spot,
    counting,
)


class Land:
    """One job at the end of its history, with what lies where and what was reported of it."""

    def __init__(self, past: Sequence[tuple[Entry, Site]], site: Site, network: Network, question: Question) -> None:
        self.site, self.network, self.q = site, network, question
        self.moment = question.moment
        self.facts = counting(past, question.now)
        self.inspection_of = {look: r.id for r in network.visit_rules for look in r.looks}
        self.inspections = {i.id: i for i in site.inspections}
        self.stations = self._stations()
        self.answers: dict[tuple[str, Spot, datetime], tuple[str, datetime | None]] = {}
        self.ahead = bool(past) and past[-1][0].at > question.now + SLACK

    def of(self, *names: str) -> Iterator[Fact]:
        return (f for f in self.facts if f.event.name in names)

    def _stations(self) -> dict[str, list[float]]:
        """Return stations between which nothing begins or ends, by alignment."""
        ends: dict[str, set[float]] = {a.id: {0.0, a.length_ft} for a in self.site.alignments}

        def add(alignment: str | None, *stations: float | None) -> None:
            if alignment in ends:
                ends[alignment].update(s for s in stations if s is not None)

        add(self.q.alignment, self.q.from_ft, self.q.to_ft)
        for reach in self.site.reaches:
            add(reach.alignment, reach.from_, reach.to)
        for keep in self.site.keep_open:
            add(keep.alignment, keep.from_, keep.to)
        for line in self.site.lines:
            for stretch in line.route:
                add(stretch.alignment, stretch.from_, stretch.to)
        for fact in self.facts:
            event = fact.event
            add(getattr(event, "alignment", None), getattr(event, "from_ft", None), getattr(event, "to_ft", None))
            for seen in getattr(event, "seen", ()):
                add(seen.alignment, seen.from_ft, seen.to_ft)
            if getattr(event, "work", None) is not None:
                add(event.work.alignment, event.work.from_ft, event.work.to_ft)
        out = {}
        for alignment, stops in ends.items():
            row = sorted(stops)
            out[alignment] = [(a + b) / 2 for a, b in itertools.pairwise(row) if b - a > 0.02]
        return out

    # what lies where

    def lies(self, line: str, alignment: str, station: float) -> bool:
        in_reach = any(r.alignment == alignment and r.from_ < station < r.to for r in self.site.reaches)
        if line == "":
            return in_reach
        route = next(k.route for k in self.site.lines if k.id == line)
        return in_reach and any(
            s.alignment == alignment and min(s.from_, s.to) < station < max(s.from_, s.to) for s in route
        )

    def places(self, hold: Hold) -> list[Activity]:
        look = self.network.by_id[hold.look]
        found = [look] if hold.look in self.inspection_of else [self.network.by_id[g] for g in hold.gates]
        return [p for p in found if p.alignment]

    def spots(self, hold: Hold) -> list[Spot]:
        """Return every station of every line that a hold is about."""
        places = self.places(hold)

        def everywhere(line: str) -> list[Spot]:
            return [
                (line, alignment, x)
                for alignment, row in self.stations.items()
                for x in row
                if self.lies(line, alignment, x)
                and (not places or any(p.alignment == alignment and p.from_ft < x < p.to_ft for p in places))
            ]

        found = [spot for line in hold.lines for spot in everywhere(line)]
        return found or (everywhere("") if places else [])

    def needed(self, hold: Hold, gate: Activity) -> list[Spot]:
        """Return the stations that a hold must be clear at for a gate to be hidden as asked."""
        spots = self.spots(hold)
        if hold.look in self.inspection_of and not self.network.by_id[hold.look].alignment:
            return spots
        lo, hi = max(gate.from_ft, self.q.from_ft), min(gate.to_ft, self.q.to_ft)
        return [s for s in spots if s[1] == gate.alignment and lo < s[2] < hi] or spots

    def hidden(self, activity: Activity) -> bool:
        q = self.q
        here = activity.alignment == q.alignment and activity.from_ft < q.to_ft and activity.to_ft > q.from_ft
        low = q.layer is None or (activity.layer is not None and activity.layer <= q.layer)
        return activity.kind.value in HIDES and here and low and not (q.only_shading and activity.kind.value in FILLS)

    def ancestors(self, activity: str) -> set[str]:
        found, waiting = {activity}, [activity]
        while waiting:
            after = waiting.pop()
            for link in self.network.links:
                if link.after == after and link.type is LinkType.FS and not link.at_most and link.before not in found:
                    found.add(link.before)
                    waiting.append(link.before)
        return found

    # what was reported of work

    def reports(self, activity: Activity, station: float | None) -> Iterator[Fact]:
        """Give reports on an activity, at a station if it has a place."""
        for fact in self.of(*WORK):
            event = fact.event
            if event.activity.startswith("repair/"):
                continue
            if event.work is None or not event.work.alignment:
                here = not activity.alignment or station is None or activity.from_ft < station < activity.to_ft
                if event.activity == activity.id and here:
                    yield fact
                continue
            work = event.work
            same = work.what == activity.id.split("/")[-1] and work.kind == activity.kind.value
            alike = set(work.lines) & set(activity.lines) or not (work.lines or activity.lines)
            here = station is not None and work.alignment == activity.alignment
            if same and alike and here and work.from_ft < (station or 0.0) < work.to_ft:
                yield fact

    def begun(self, fact: Fact) -> bool:
        return fact.event.name in ("started", "test_failed") or (
            fact.event.name == "remaining_reported" and fact.event.hours > 0
        )

    def buried(self, gate: Activity, spot: Spot, moment: datetime) -> tuple[datetime | None, datetime | None]:
        """Return since when a gate's work is begun, and done, over a station."""
        begun, done = [], []
        for fact in self.reports(gate, spot[2]):
            if fact.approves(moment) and fact.event.name in ("started", "finished"):
                begun.append(fact.when)
                done += [fact.when] if fact.event.name == "finished" else []
        for fact in self.of("cover_reported"):
            event = fact.event
            over = event.alignment == spot[1] and event.from_ft < spot[2] < event.to_ft
            deep = event.layer is None or (gate.layer is not None and gate.layer <= event.layer)
            hides = gate.kind.value in HIDES and not (event.depth == "shading" and gate.kind.value in FILLS)
            if over and deep and hides and fact.approves(moment):
                begun.append(fact.when)
                done.append(fact.when)
        opened = [
            since
            for fact in self.of("uncover_reported")
            if (fact.event.depth == "shading" or gate.kind.value in FILLS)
            and self._over(fact, spot)
            and (since := fact.against(moment)) is not None
        ]
        left = [[t for t in times if not opened or t > max(opened)] for times in (begun, done)]
        return min(left[0], default=None), min(left[1], default=None)

    def _over(self, fact: Fact, spot: Spot) -> bool:
        return bool(fact.event.alignment == spot[1] and fact.event.from_ft < spot[2] < fact.event.to_ft)

    def _last(self, activity: Activity, station: float | None, moment: datetime) -> Fact | None:
        said = [(t, f.number, f) for f in self.reports(activity, station) if (t := f.against(moment)) is not None]
        return max(said, key=lambda s: s[:2])[2] if said else None

    # designs, compared field by field

    def _same(self, then: Site, seen: Any) -> bool:
        """Tell whether a site file described what was seen as the site file of now does."""
        return then is self.site or view_of(then, seen) == view_of(self.site, seen)
