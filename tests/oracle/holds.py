"""Hold points, judged at one station of one line."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from scheduler.network.model import Activity, Hold
from tests.oracle.facts import (
    PASSED,
    WORK,
    Fact,
    Spot,
)
from tests.oracle.witness import Witness


class Holds(Witness):
    """Judges hold points."""

    def clear(self, hold: Hold, spot: Spot, moment: datetime) -> tuple[str, datetime | None]:
        """Return 'yes', 'ask' or 'no' for a station of a line, and when a look that stands saw it done."""
        key = (hold.id, spot, moment)
        if key not in self.answers:
            judge = self._inspected if hold.look in self.inspection_of else self._kept_open
            self.answers[key] = judge(hold, spot, moment)
        return self.answers[key]

    def _about(self, fact: Fact, subject: str, spot: Spot) -> Any:
        """Return the record of what was seen that takes in a station, if there is one."""
        return next(
            (
                s
                for s in fact.event.seen
                if (s.inspection, s.line, s.alignment) == (subject, spot[0], spot[1]) and s.from_ft < spot[2] < s.to_ft
            ),
            None,
        )

    def _results(self, hold: Hold, spot: Spot) -> list[Fact]:
        subject = self.inspection_of[hold.look]
        return [
            f
            for f in self.of(*PASSED, "inspection_failed")
            if self._about(f, subject, spot) is not None or (not f.event.seen and hold.look in f.event.looks)
        ]

    def _releases(self, hold: Hold, spot: Spot, moment: datetime, look: Fact | None) -> list[Fact]:
        subject = self.inspection_of.get(hold.look, hold.id.removeprefix("hold/"))
        out = []
        for fact in self.of("hold_released"):
            seen = self._about(fact, subject, spot)
            if fact.event.seen:
                good = seen is not None and seen.right != ""
            else:
                good = fact.event.hold == hold.id and self._old_right(hold, fact)
            if look is not None:
                rests = not fact.event.rests_on or look.number in fact.event.rests_on
                good = good and rests and fact.when >= look.when
            if good and fact.approves(moment):
                out.append(fact)
        return out

    def _old_right(self, hold: Hold, fact: Fact) -> bool:
        """Judge a release without a record of its right by the people of now; who is gone may have had it."""
        person = next((p for p in self.site.people if p.id == fact.event.person), None)
        if person is None:
            return True
        if fact.event.role != person.role:
            return False
        inspection = self.inspections.get(self.inspection_of.get(hold.look, ""))
        if inspection is not None and person.of != inspection.authority:
            return False
        if not hold.released_by:
            by = next((w.by for w in self.site.outside_work if f"outside/{w.id}" == hold.look), "")
            return person.of == (inspection.authority if inspection else by) and person.role in ("inspector", "utility")
        named = next((p for p in self.site.people if p.id == hold.released_by), None)
        if named is None:
            return person.of == hold.released_by
        return person.id == named.id or (person.deputy_of == named.id and person.role == named.role)

    def _inspected(self, hold: Hold, spot: Spot, moment: datetime) -> tuple[str, datetime | None]:
        results = self._results(hold, spot)
        fails = [f for f in results if f.event.name == "inspection_failed" and f.against(moment) is not None]
        passes = [f for f in results if f.event.name in PASSED and f.approves(moment)]
        if not passes:
            if fails:
                return "no", None
            if self._releases(hold, spot, moment, None):
                return "ask", None
            if hold.kind == "witness" and self._witness_had_the_chance(hold, spot, moment):
                return "yes", None
            return "no", None
        first: tuple[str, datetime | None] | None = None
        for look in sorted(passes, key=lambda f: (f.when, f.number), reverse=True):
            found = self._by_look(hold, spot, moment, look, fails)
            if found[0] == "yes":
                return found
            first = first or found
            if look.event.name == "inspection_passed_with_conditions":
                break
        assert first is not None
        return first

    def _by_look(
        self, hold: Hold, spot: Spot, moment: datetime, look: Fact, fails: list[Fact]
    ) -> tuple[str, datetime | None]:
        subject = self.inspection_of[hold.look]
        inspection = self.inspections[subject]
        if any(since >= look.when for f in fails if (since := f.against(moment)) is not None):
            return "no", None
        if self._spoiled(hold, spot, moment, look.when):
            return "no", None
        seen = self._about(look, subject, spot)
        if seen is None:
            person = next((p for p in self.site.people if p.id == look.event.inspector), None)
            if person is None or person.of != inspection.authority or person.role not in ("inspector", "utility"):
                return "no", None
            day = look.when.astimezone(self.network.clock.when(0).tzinfo).date()
            if (person.from_ and day < person.from_) or (person.until and day > person.until):
                return "no", None
        elif seen.right == "":
            return "no", None
        if self._lapsed(hold, spot, moment, look):
            return "no", None
        releases = self._releases(hold, spot, moment, look)
        if not releases:
            return "no", look.when
        if any(not self._doubtful(hold, spot, moment, look, given, fails) for given in releases):
            return "yes", look.when
        return "ask", None

    def _doubtful(self, hold: Hold, spot: Spot, moment: datetime, look: Fact, given: Fact, fails: list[Fact]) -> bool:
        subject = self.inspection_of[hold.look]
        if look.contested or given.contested:
            return True
        words = [
            f
            for f in self.of("pass_stands")
            if f.approves(moment) and f.when >= look.when and not f.contested
            and (s := self._about(f, subject, spot)) is not None and s.right != "" and self._same(f.then, s)
        ]  # fmt: skip
        if not words:
            for fact in (look, given):
                seen = self._about(fact, subject, spot)
                origin = look.then if fact.event.name == "hold_released" and fact.event.rests_on else fact.then
                if seen is None or not self._same(origin, seen):
                    return True
        before = [(t, f) for f in fails if (t := f.against(moment)) is not None and t < look.when]
        if before:
            failed, failure = max(before, key=lambda pair: pair[0])
            soon = look.when.astimezone(UTC) < failed.astimezone(UTC) + timedelta(hours=failure.event.repair_hours)
            if soon and not any(failed <= t <= look.when for t in self._mended(hold, spot, failure, look.when)):
                return True
        return self._wet(hold, spot, moment, max([look.when, *(f.when for f in words)]))

    def _mended(self, hold: Hold, spot: Spot, failure: Fact, by: datetime) -> Iterator[datetime]:
        for fact in self.of("repair_reported"):
            at = [(s.alignment, s.from_ft, s.to_ft) for s in failure.event.seen]
            event = fact.event
            here = any(event.alignment == a and event.from_ft < hi and event.to_ft > lo for a, lo, hi in at)
            if (here if at else self._over(fact, spot)) and fact.approves(by):
                yield fact.when
        for fact in self._repairs(hold, spot):
            if fact.approves(by) and not self.begun(fact):
                yield fact.when

    def _repairs(self, hold: Hold, spot: Spot) -> Iterator[Fact]:
        """Give reports on the mending that a plan adds after a failed look."""
        for fact in self.of("started", "finished", "remaining_reported"):
            event = fact.event
            if not event.activity.startswith("repair/"):
                continue
            if event.work is not None and event.work.alignment:
                if event.work.alignment == spot[1] and event.work.from_ft < spot[2] < event.work.to_ft:
                    yield fact
            elif event.activity.startswith(f"repair/{hold.look.removeprefix('look/')}/"):
                yield fact

    def _spoiled(self, hold: Hold, spot: Spot, moment: datetime, since: datetime) -> bool:
        """Tell whether anything was done to the work at or after a look of it."""
        inspection = self.inspections.get(self.inspection_of.get(hold.look, ""))
        stage = inspection.stage if inspection else ""
        for fact in self.of("uncover_reported", "repair_reported", "cover_reported"):
            at = fact.against(moment)
            if at is None or not self._over(fact, spot):
                continue
            name = fact.event.name
            deep = name == "uncover_reported" and (fact.event.depth == "shading" or stage in ("shaded", "compaction"))
            if (deep or name == "repair_reported") and at >= since:
                return True
            if name == "cover_reported" and fact.event.depth == "shading" and stage == "shaded" and at > since:
                return True
        for fact in self._repairs(hold, spot):
            at = fact.against(moment)
            if at is not None and at > since:
                return True
        if inspection and stage not in ("shaded", "compaction") and self._failed_since(hold, spot, moment, since):
            return True
        for id_ in self.ancestors(hold.look):
            activity = self.network.by_id[id_]
            if not activity.alignment and not set(activity.lines) & set(hold.lines):
                continue
            for fact in self.reports(activity, spot[2] if activity.alignment == spot[1] else None):
                if activity.alignment not in ("", spot[1]):
                    continue
                at = fact.against(moment)
                if at is not None and at > since and (self.begun(fact) or fact.event.name == "finished"):
                    return True
        return False

    def _failed_since(self, hold: Hold, spot: Spot, moment: datetime, since: datetime) -> bool:
        """Tell whether a test failed after a look: of the line there, or of any of the hold's at the trench itself."""
        lines = {spot[0]} if spot[0] else set(hold.lines)
        for fact in self.of("test_failed"):
            at, event = fact.against(moment), fact.event
            test = self.network.by_id.get(event.activity)
            what = event.work if event.work is not None and event.work.lines else test
            if at is None or at <= since or what is None or not lines & set(what.lines):
                continue
            if not what.alignment or (what.alignment == spot[1] and what.from_ft < spot[2] < what.to_ft):
                return True
        return False

    def _lapsed(self, hold: Hold, spot: Spot, moment: datetime, look: Fact) -> bool:
        for gate in self._gates_at(hold, spot):
            for link in self.network.links:
                if link.at_most and link.before == hold.look and link.after == gate.id:
                    minutes = link.lag * self.network.clock.tick_minutes
                    end = look.when.astimezone(UTC) + timedelta(minutes=minutes)
                    begun = self.buried(gate, spot, moment)[0]
                    if end < moment and (begun is None or begun > end):
                        return True
        return False

    def _gates_at(self, hold: Hold, spot: Spot) -> list[Activity]:
        gates = [self.network.by_id[g] for g in hold.gates]
        return [g for g in gates if g.alignment == spot[1] and g.from_ft < spot[2] < g.to_ft]

    def _wet(self, hold: Hold, spot: Spot, moment: datetime, since: datetime) -> bool:
        over = [self.buried(g, spot, moment)[1] for g in self._gates_at(hold, spot)]
        dry_from = [t for t in over if t is not None]
        end = max(dry_from) if over and len(dry_from) == len(over) else moment
        for fact in self.of("water_stood"):
            at = fact.against(end)
            if at is not None and at >= since and self._over(fact, spot):
                return True
        fallen, any_rain = 0.0, False
        for fact in self.of("rained"):
            if fact.against(end) is not None and fact.event.until > since:
                any_rain = True
                fallen += 1e9 if fact.event.inches is None else fact.event.inches
        return any_rain and fallen > self.inspections[self.inspection_of[hold.look]].rain_allowed_in

    def _kept_open(self, hold: Hold, spot: Spot, moment: datetime) -> tuple[str, datetime | None]:
        done, again = None, None
        for fact in self.reports(self.network.by_id[hold.look], None):
            at = fact.against(moment)
            if at is not None and (self.begun(fact) or fact.event.name == "not_done"):
                again = at if again is None else max(again, at)
            elif fact.event.name == "finished" and fact.approves(moment):
                done = fact.when if done is None else max(done, fact.when)
        for fact in self.of(*WORK):
            event = fact.event
            if event.activity == hold.look and event.work is not None and event.work.alignment:
                at = fact.against(moment)
                if at is not None and (self.begun(fact) or event.name == "not_done"):
                    again = at if again is None else max(again, at)
                elif event.name == "finished" and fact.approves(moment):
                    done = fact.when if done is None else max(done, fact.when)
        releases = self._releases(hold, spot, moment, None)
        if done is None or (again is not None and again > done):
            return ("ask" if releases else "no"), None
        good = [f for f in releases if f.when >= done]
        if not good:
            return "no", None
        subject = hold.id.removeprefix("hold/")
        verdicts = []
        for given in good:
            if self._spoiled(hold, spot, moment, given.when):
                verdicts.append("no")
                continue
            seen = self._about(given, subject, spot)
            doubtful = given.contested or seen is None or not self._same(given.then, seen)
            verdicts.append("ask" if doubtful else "yes")
        return next(v for v in ("yes", "ask", "no") if v in verdicts), None
