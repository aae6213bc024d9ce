"""How one hold point stands over one piece of one line, by everything on record.

A piece is so short that nothing on record changes within it. It is cleared only if a look by the authority saw this
very line and design, if nothing happened to it since, and if somebody with the right released it on the strength of
that look.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from scheduler.ledger.day_events import NotDone
from scheduler.ledger.event_fields import Seen
from scheduler.ledger.events import (
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PassStands,
)
from scheduler.ledger.evidence import begun_again, by, speaks
from scheduler.ledger.hold_standing import CLEAR, Given, HeldPlace, HoldStatus, Sight, Sights, Stand
from scheduler.ledger.known import KnownJob
from scheduler.ledger.moments import said
from scheduler.ledger.rights import may_look, may_release
from scheduler.ledger.seen import LinePart, cut
from scheduler.ledger.since import good_until, hasty, undone, wet
from scheduler.ledger.timed import TimedEntry
from scheduler.ledger.witness import kept_away
from scheduler.network.model import Hold
from scheduler.units import TOUCH_FT

Stretch = tuple[str, float, float]
"""An alignment, with the stations from and to."""


class Clearance:
    """Judges hold points by what is known of a job at a moment."""

    def __init__(self, known: KnownJob) -> None:
        self.known = known
        self._stands: dict[tuple[str, LinePart], Stand] = {}
        self._pieces: dict[tuple[str, Stretch | None], list[LinePart]] = {}

    def stand(self, hold: Hold, part: LinePart) -> Stand:
        """Return how a hold stands over a part that no stretch on record ends within."""
        key = (hold.id, part)
        if key not in self._stands:
            inspection = self.known.inspection(hold)
            if inspection is None:
                self._stands[key] = self._kept_open(hold, part)
            else:
                gates = tuple(
                    g
                    for g in map(self.known.network.by_id.__getitem__, hold.gates)
                    if g.alignment == part.alignment and g.from_ft <= part.at_ft <= g.to_ft
                )
                self._stands[key] = self._looked_at(HeldPlace(hold, part, inspection, gates))
        return self._stands[key]

    def stands(self, hold: Hold, stretch: Stretch | None = None) -> list[Stand]:
        """Return how a hold stands over each of its pieces, within a stretch if one is given."""
        return [self.stand(hold, piece) for piece in self.pieces(hold, stretch)]

    def pieces(self, hold: Hold, stretch: Stretch | None = None) -> list[LinePart]:
        """Return the parts that a hold is about, within a stretch if one is given, cut where anything on record ends.

        Where a hold is about nothing in the stretch itself, all that it is about counts.
        """
        key = (hold.id, stretch)
        if key not in self._pieces:
            self._pieces[key] = self._pieces_of(hold, stretch)
        return self._pieces[key]

    def _pieces_of(self, hold: Hold, stretch: Stretch | None) -> list[LinePart]:
        parts: list[LinePart] = list(self.known.looking.parts(hold))
        whole_lines = hold.look in self.known.looking.inspections and not self.known.network.by_id[hold.look].alignment
        if stretch is not None and not whole_lines:
            alignment, lo, hi = stretch
            inside = [
                LinePart(p.alignment, p.line, max(p.from_ft, lo), min(p.to_ft, hi), p.layer)
                for p in parts
                if p.alignment == alignment and min(p.to_ft, hi) - max(p.from_ft, lo) > TOUCH_FT
            ]
            parts = inside or parts
        return [piece for part in parts for piece in cut(part, self._cuts_of(hold, part))]

    def _cuts_of(self, hold: Hold, part: LinePart) -> list[float]:
        """Return every station at which something on record about a line of a hold begins or ends, in order."""
        key, cuts = (hold.id, part.alignment, part.line), self.known.cuts
        if key not in cuts:
            cuts[key] = sorted({end for ends in self._ends(hold, part) for end in ends})
        return cuts[key]

    def _ends(self, hold: Hold, part: LinePart) -> Iterator[tuple[float, float]]:
        known, evidence = self.known, self.known.evidence
        yield from evidence.stretches(known.looking.looked_for(hold), part)
        yield from evidence.ground_stretches(part.alignment)
        for activity in known.looking.work_of(hold):
            yield from ((lo, hi) for lo, hi, _ in evidence.work_on(activity) if activity.alignment == part.alignment)
        yield from evidence.failed_stretches(part.alignment)
        for gate in map(known.network.by_id.__getitem__, hold.gates):
            if gate.alignment == part.alignment:
                yield gate.from_ft, gate.to_ft
                yield from ((lo, hi) for lo, hi, _ in evidence.work_on(gate))

    def passed(self, hold: Hold) -> list[TimedEntry]:
        """Return the looks that a release of a hold given now rests on: the last one that passed, over each piece."""
        known = self.known
        if known.inspection(hold) is None:
            work = known.evidence.work_on(known.network.by_id[hold.look])
            done = [n for _, _, n in work if isinstance(n.entry.event, Finished) and speaks(n, known.moment)]
            return sorted(done, key=lambda n: (n.when, n.number))[-1:]
        out: dict[int, TimedEntry] = {}
        for piece in self.pieces(hold):
            looks = [k.noted for k in self._looks(hold, piece) if speaks(k.noted, known.moment)]
            passes = [n for n in looks if not isinstance(n.entry.event, InspectionFailed)]
            last = max(passes, key=lambda n: (n.when, n.number), default=None)
            if last is not None:
                out[last.number] = last
        return list(out.values())

    def _looks(self, hold: Hold, part: LinePart) -> list[Sight]:
        evidence, inspection = self.known.evidence, self.known.looking.looked_for(hold)
        looks = [Sight(n, s) for s, n in evidence.seen_at(InspectionPassed, inspection, part)]
        return looks + [Sight(n, None) for n in evidence.without_place(InspectionPassed, hold.look)]

    def _sights(self, hold: Hold, part: LinePart) -> Sights:
        """Return the looks at a piece in the order of time, found once for every moment."""
        key, kept = (hold.id, part), self.known.sights
        if key not in kept:
            kept[key] = Sights.of(self._looks(hold, part))
        return kept[key]

    def _looked_at(self, place: HeldPlace) -> Stand:
        """Judge an inspection's hold: by the latest look that leaves it clear, else by the latest look."""
        looks = self._sights(place.hold, place.part)
        failures = by(self.known.moment, looks.failures)
        first: Stand | None = None
        for sight in looks.passes_by(self.known.moment):
            stand = self._judged(place, sight, failures)
            if stand.status in CLEAR:
                return stand
            first = first or stand
            older_is_no_better = stand.status in (HoldStatus.FAILED, HoldStatus.UNDONE, HoldStatus.LAPSED)
            if older_is_no_better or isinstance(sight.noted.entry.event, InspectionPassedWithConditions):
                break
        return first or self._without_look(place, failures, looks.ahead)

    def _without_look(self, place: HeldPlace, failures: list[TimedEntry], ahead: list[TimedEntry]) -> Stand:
        clock = self.known.network.clock
        if failures:
            last = max(failures, key=lambda n: n.felt(self.known.moment))
            return Stand(HoldStatus.FAILED, since=last.felt(self.known.moment), look=last)
        given = self.releases(place.hold, place.part)
        if given:
            text = f"released {said(clock, given[-1].when)}, but no look that passed is on record"
            return Stand(HoldStatus.DOUBTFUL, text, given[-1].when, release=given[-1])
        if place.hold.kind == "witness":
            return kept_away(self.known, place)
        text = f"entry {ahead[-1].number} is dated after it was written, so it passes nothing" if ahead else ""
        return Stand(HoldStatus.WAITING, text)

    def _judged(self, place: HeldPlace, sight: Sight, failures: list[TimedEntry]) -> Stand:
        """Judge a hold by one look that passed: what undoes it first, then what is missing, then what is doubtful."""
        late = [n for n in failures if n.felt(self.known.moment) >= sight.when]
        if late:
            last = max(late, key=lambda n: n.felt(self.known.moment))
            return Stand(HoldStatus.FAILED, since=last.felt(self.known.moment), look=last)
        after = undone(self.known, place.hold, place.part, sight.when)
        if after is not None:
            return Stand(HoldStatus.UNDONE, after[1], after[0], sight.noted)
        if not self._by_authority(place, sight):
            who = sight.event.inspector
            text = f"looked at by {who}, who is not on record as one of {place.inspection.authority}'s"
            return Stand(HoldStatus.WAITING, text, look=sight.noted)
        until = good_until(self.known, place, sight.when)
        if until is not None and until < self.known.moment:
            return Stand(HoldStatus.LAPSED, "", until, sight.noted, good_until=until)
        given = self.releases(place.hold, place.part, sight.noted)
        if not given:
            return Stand(HoldStatus.PASSED, look=sight.noted, since=sight.when, good_until=until)
        stands = []
        for release in reversed(given):
            doubt = self._doubt(place, sight, release, failures)
            status = HoldStatus.DOUBTFUL if doubt else HoldStatus.RELEASED
            stands.append(Stand(status, doubt, release.when, sight.noted, release, until))
        return next((s for s in stands if s.status in CLEAR), stands[0])

    def _by_authority(self, place: HeldPlace, sight: Sight) -> bool:
        if sight.seen is not None:
            return sight.seen.right != ""
        return may_look(self.known.site, self.known.network, place.hold, sight.event.inspector, sight.when).yes

    def releases(self, hold: Hold, part: LinePart, look: TimedEntry | None = None) -> list[TimedEntry]:
        """Return the releases that rest on a look, or any where there was none, the earliest first."""
        key, kept = (hold.id, part), self.known.given
        if key not in kept:
            inspection = self.known.looking.looked_for(hold)
            found = [n for s, n in self.known.evidence.seen_at(HoldReleased, inspection, part) if s.right]
            found += [n for n in self.known.evidence.without_place(HoldReleased, hold.id) if self._may(hold, n)]
            kept[key] = Given.of(found)
        given = kept[key].whole if look is None else kept[key].resting_on(look)
        return [n for n in given if speaks(n, self.known.moment)]

    def _may(self, hold: Hold, noted: TimedEntry) -> bool:
        """Tell whether a release that is older than `seen` was given by somebody who may; who has left may have."""
        event = noted.entry.event
        assert isinstance(event, HoldReleased)
        person = next((p for p in self.known.site.people if p.id == event.person), None)
        if person is None:
            return True
        return event.role == person.role and may_release(self.known.site, self.known.network, hold, person).yes

    def _doubt(self, place: HeldPlace, sight: Sight, given: TimedEntry, failures: list[TimedEntry]) -> str:
        """Return why the authority must be asked again about what it released; empty for no reason."""
        for noted, what in ((sight.noted, "the look"), (given, "the release")):
            if noted.contested_by is not None:
                by_whom = f"entry {noted.contested_by}, by somebody who may not take it back"
                return f"{what} (entry {noted.number}) is said to be wrong by {by_whom}"
        words = self._words_since(place, sight.when)
        if not words:
            seen = [sight.seen, _at(given, self.known.looking.looked_for(place.hold), place.part)]
            if any(s is None for s in seen):
                return "what was seen is not on record"
            if not all(self.known.looking.still_so(s) for s in seen if s is not None):
                return "the site file describes it otherwise than it was seen"
        if odd := hasty(self.known, place, sight, failures):
            return odd
        since = max([sight.when, *(n.when for n in words)])
        return wet(self.known, place, since)

    def _words_since(self, place: HeldPlace, when: datetime) -> list[TimedEntry]:
        """Return the authority's words, on or after a look, that its pass still stands for what the site file says."""
        inspection = self.known.looking.looked_for(place.hold)
        return [
            n
            for s, n in self.known.evidence.seen_at(PassStands, inspection, place.part)
            if s.right and n.when >= when and speaks(n, self.known.moment) and n.contested_by is None
            and self.known.looking.still_so(s)
        ]  # fmt: skip

    def _kept_open(self, hold: Hold, part: LinePart) -> Stand:
        """Judge a stretch kept open for outside work: the work is done, and its release was given after that."""
        done, again = None, None
        for _, _, noted in self.known.evidence.work_on(self.known.network.by_id[hold.look]):
            at = noted.felt(self.known.moment)
            if at <= self.known.moment and (begun_again(noted) or isinstance(noted.entry.event, NotDone)):
                again = max(again or at, at)
            elif isinstance(noted.entry.event, Finished) and speaks(noted, self.known.moment):
                done = max(done, noted, key=lambda n: n.when) if done else noted
        given = self.releases(hold, part)
        if done is None or (again is not None and again > done.when):
            if given:
                text = "released, but the work that it waits for is not on record as finished"
                return Stand(HoldStatus.DOUBTFUL, text, given[-1].when, release=given[-1])
            return Stand(HoldStatus.WAITING)
        stands = [self._let_go(hold, part, done, n) for n in reversed(given) if n.when >= done.when]
        if not stands:
            return Stand(HoldStatus.PASSED, look=done, since=done.when)
        return max(stands, key=lambda s: s.rank)

    def _let_go(self, hold: Hold, part: LinePart, done: TimedEntry, release: TimedEntry) -> Stand:
        """Judge one release of a kept-open stretch."""
        after = undone(self.known, hold, part, release.when)
        if after is not None:
            return Stand(HoldStatus.UNDONE, after[1], after[0], done)
        seen, doubt = _at(release, self.known.looking.looked_for(hold), part), ""
        if release.contested_by is not None:
            doubt = f"the release is said to be wrong by entry {release.contested_by}"
        elif seen is None:
            doubt = "what was released is not on record"
        elif not self.known.looking.still_so(seen):
            doubt = "the site file describes it otherwise than it was released"
        return Stand(HoldStatus.DOUBTFUL if doubt else HoldStatus.RELEASED, doubt, release.when, done, release)


def _seen_of(noted: TimedEntry) -> Iterable[Seen]:
    event = noted.entry.event
    return event.seen if isinstance(event, HoldReleased) else ()


def _at(given: TimedEntry, inspection: str, part: LinePart) -> Seen | None:
    return next(
        (s for s in _seen_of(given) if s.inspection == inspection and s.holds(part.alignment, part.line, part.at_ft)),
        None,
    )
