"""May this be covered? Worked out once more, foot by foot, by reading the rules plainly.

It reads event records, the site file's records and the network, and shares nothing else with the program: neither how
entries are indexed, nor how designs are compared, nor how stretches are cut. It looks at stations between which
nothing begins or ends, and asks of each, for each line, hold point and piece of work, whether it is in order.
"""

from __future__ import annotations

from datetime import datetime

from scheduler.network.model import Activity, Hold, LinkType
from tests.oracle.facts import (
    COVERING,
    IN_OPEN_TRENCH,
    PASSED,
    Fact,
    Spot,
)
from tests.oracle.holds import Holds


class Oracle(Holds):
    """One question about one job."""

    def verdict(self) -> str:
        """Return 'Yes', 'No' or 'Ask again'."""
        found = set()
        for hold in self.network.holds:
            for gate in (self.network.by_id[g] for g in hold.gates):
                if self.hidden(gate):
                    found |= {self._now_or_then(hold, spot) for spot in self.needed(hold, gate)}
        buried = self._unfinished() or self._branch_missing() or self._tested_too_soon()
        if self._stopped() or buried or self._unsafe() or self._test_failed():
            found.add("no")
        if self.ahead:
            found.add("ask")
        return "No" if "no" in found else "Ask again" if "ask" in found else "Yes"

    def _now_or_then(self, hold: Hold, spot: Spot) -> str:
        answer = self.clear(hold, spot, self.moment)[0]
        if hold.kind == "witness" and answer == "yes" and self.q.now < self.moment:
            looked = any(f.event.name in PASSED and f.approves(self.moment) for f in self._results(hold, spot))
            if not looked:
                return self.clear(hold, spot, self.q.now)[0]
        return answer

    def _stopped(self) -> bool:
        for stop in self.of("stop_work", "line_struck"):
            order, since, struck = stop.event, stop.against(self.moment), stop.event.name == "line_struck"
            begin, end = (0.0, None) if struck else (order.from_ft, order.to_ft)
            end = float("inf") if end is None else end
            here = order.alignment is None or (
                order.alignment == self.q.alignment and begin < self.q.to_ft and end > self.q.from_ft
            )
            if not here or since is None:
                continue
            lifted = any(
                f.event.stop == stop.number
                and (
                    f.event.who == order.who
                    or (f.event.firm and f.event.firm in (order.firm, order.owner if struck else ""))
                )
                and stop.when <= f.when
                and f.approves(self.moment)
                and not f.contested
                for f in self.of("stop_work_lifted")
            )
            if not lifted:
                return True
        return False

    def _unsafe(self) -> bool:
        """Tell whether the competent person's last word about any station asked about is that it is not safe."""
        for bad in self.of("trench_inspected"):
            since = bad.against(self.moment)
            if bad.event.safe or since is None or bad.event.alignment != self.q.alignment:
                continue
            for x in self.stations[self.q.alignment]:
                if not (self.q.from_ft < x < self.q.to_ft and bad.event.from_ft < x < bad.event.to_ft):
                    continue
                if not any(
                    good.event.safe
                    and good.event.role == "competent_person"
                    and good.event.alignment == bad.event.alignment
                    and good.event.from_ft < x < good.event.to_ft
                    and not good.contested
                    and good.approves(self.moment)
                    and (good.when > since or (good.when == since and good.number > bad.number))
                    for good in self.of("trench_inspected")
                ):
                    return True
        return False

    def _test_failed(self) -> bool:
        """Tell whether a test of anything that lies there failed, and is not reported finished since."""
        for bad in self.of("test_failed"):
            since, work = bad.against(self.moment), bad.event.work
            if since is None:
                continue
            if work is None or not (work.alignment or work.lines):
                spots: list[float | None] = [None]
            elif work.alignment:
                inside = [x for x in self.stations[self.q.alignment] if self.q.from_ft < x < self.q.to_ft]
                spots = [x for x in inside if work.alignment == self.q.alignment and work.from_ft < x < work.to_ft]
            else:
                lines = [k.id for k in self.site.lines if k.id in work.lines]
                inside = [x for x in self.stations[self.q.alignment] if self.q.from_ft < x < self.q.to_ft]
                spots = [x for x in inside if any(self.lies(k, self.q.alignment, x) for k in lines)]
            if any(not self._tested_again(bad, since, x) for x in spots):
                return True
        return False

    def _tested_too_soon(self) -> bool:
        """Tell whether a test of anything that lies there was made, and something was fixed there after it."""
        for test in (a for a in self.network.activities if a.kind.value in ("prove", "test")):
            for x in self.stations[self.q.alignment]:
                if not self.q.from_ft < x < self.q.to_ft:
                    continue
                lines = [k.id for k in self.site.lines if k.id in test.lines]
                if test.alignment:
                    here = test.alignment == self.q.alignment and test.from_ft < x < test.to_ft
                else:
                    here = any(self.lies(k, self.q.alignment, x) for k in lines)
                last = self._last(test, x if test.alignment else None, self.moment)
                if not here or last is None or last.event.name != "finished":
                    continue
                if any(self._mended(fact, test, x, last) for fact in self.of("repair_reported", "finished")):
                    return True
        return False

    def _mended(self, fact: Fact, test: Activity, station: float, last: Fact) -> bool:
        """Tell whether an entry reports mending of what was tested, at a station, after its last report."""
        event, since = fact.event, fact.against(self.moment)
        if since is None or (since, fact.number) <= (last.when, last.number):
            return False
        if event.name == "repair_reported":
            return bool(event.alignment == self.q.alignment and event.from_ft < station < event.to_ft)
        if not event.activity.startswith("repair/"):
            return False
        named = event.activity.removeprefix("repair/").rpartition("/")[0]
        what = event.work if event.work is not None and event.work.alignment else None
        what = what or self.network.by_id.get(f"look/{named}") or self.network.by_id.get(named)
        if what is None or not set(what.lines) & set(test.lines):
            return False
        if not what.alignment:
            return True
        return bool(what.alignment == self.q.alignment and what.from_ft < station < what.to_ft)

    def _tested_again(self, bad: Fact, since: datetime, station: float | None) -> bool:
        first = bad.event.work
        for good in self.of("finished"):
            again = good.event.work
            late = good.when > since or (good.when == since and good.number > bad.number)
            if not late or good.contested or not good.approves(self.moment):
                continue
            if first is None or not first.alignment:
                same = good.event.activity == bad.event.activity and not (again is not None and again.alignment)
            else:
                same = again is not None and (again.alignment, again.what) == (first.alignment, first.what)
                same = same and (station is None or again.from_ft < station < again.to_ft)
            if first is not None:
                same = same and again is not None and again.kind == first.kind
                same = same and set(first.lines) <= set(again.lines)
            if same:
                return True
        return False

    def _unfinished(self) -> bool:
        covering = {a.id for a in self.network.activities if a.kind.value not in IN_OPEN_TRENCH and self.hidden(a)}
        first = {
            k.before for k in self.network.links if k.after in covering and k.type is LinkType.FS and not k.at_most
        }
        for activity in self.network.activities:
            q, kind = self.q, activity.kind.value
            required = activity.id in first and kind in IN_OPEN_TRENCH
            here = activity.alignment == q.alignment and activity.from_ft < q.to_ft and activity.to_ft > q.from_ft
            if not required and (not here or kind in COVERING):
                continue
            if here:
                lo, hi = max(activity.from_ft, q.from_ft), min(activity.to_ft, q.to_ft)
                spots: list[float | None] = [x for x in self.stations[q.alignment] if lo < x < hi]
            elif activity.alignment:
                spots = [x for x in self.stations[activity.alignment] if activity.from_ft < x < activity.to_ft]
            else:
                spots = [None]
            if any(self._amiss(activity, x, required) for x in spots):
                return True
        return False

    def _branch_missing(self) -> bool:
        """Tell whether a main would be covered where a branch of it is not laid yet, by where the site's lines run.

        A line that lies in a branch of the trench from its beginning comes out of the line of its kind, or of its own,
        that passes where the branch leaves; which of several that is, is left to the rules of the network.
        """
        for branch in (a for a in self.site.alignments if a.leaves is not None):
            at = branch.leaves
            assert at is not None
            for line in self.site.lines:
                begins = any(s.alignment == branch.id and min(s.from_, s.to) < 0.5 for s in line.route)
                if not begins or line.joins is not None:
                    continue
                near = [k for k in self.site.lines if self._passes(k.id, at.alignment, at.station)]
                mains = [k.id for k in near if k.id == line.id or (k.kind == line.kind and k.use != "spare")]
                if line.id in mains:
                    mains = [line.id]
                held = len(mains) == 1 and self._covers_at(mains[0], at.alignment, at.station)
                if held and self._not_laid(line.id, branch.id):
                    return True
        return False

    def _passes(self, line: str, alignment: str, station: float) -> bool:
        route = next(k.route for k in self.site.lines if k.id == line)
        return any(s.alignment == alignment and min(s.from_, s.to) <= station <= max(s.from_, s.to) for s in route)

    def _covers_at(self, line: str, alignment: str, station: float) -> bool:
        """Tell whether covering as asked hides the shading over a line at a place."""
        return any(
            a.kind.value == "shade" and line in a.lines and a.alignment == alignment
            and a.from_ft <= station <= a.to_ft and self.hidden(a)
            for a in self.network.activities
        )  # fmt: skip

    def _not_laid(self, line: str, branch: str) -> bool:
        for a in self.network.activities:
            if a.kind.value == "lay" and a.lines == (line,) and a.alignment == branch and a.from_ft < 0.5:
                inside = [x for x in self.stations[branch] if a.from_ft < x < a.to_ft]
                if any(self._amiss(a, x, required=True) for x in inside):
                    return True
        return False

    def _amiss(self, activity: Activity, station: float | None, required: bool) -> bool:
        last = self._last(activity, station, self.moment)
        going_on = last is not None and self.begun(last)
        done = (
            last is not None
            and last.event.name == "finished"
            and last.approves(self.moment)
            and not last.contested
            and (last.event.work is None or set(activity.lines) <= set(last.event.work.lines))
        )
        if not going_on and (done or not required):
            return False
        since = last.against(self.moment) if last else None
        for hold in self.network.holds:
            if hold.look not in self.inspection_of or activity.id not in self.ancestors(hold.look):
                continue
            spots = [s for s in self.spots(hold) if not activity.lines or s[0] in activity.lines]
            if activity.alignment and station is not None:
                spots = [s for s in spots if s[1] == activity.alignment and s[2] == station]
            looks = [self.clear(hold, s, self.moment)[1] for s in spots]
            if looks and all(t is not None and (since is None or since <= t) for t in looks):
                return False
        return True
