"""Faults that change nothing anybody can see, each with the reason; they are left out of the score."""

from __future__ import annotations

MEASURES = "scheduler/measures.py"
COVER = "scheduler/trench/cover_depth.py"
CONFLICTS = "scheduler/explain/conflicts.py"
SHARING = "scheduler/audit/sharing_checks.py"
DESTRUCTIVE = "scheduler/solve/bounds/destructive.py"
STAGES = "scheduler/solve/stages.py"
FINISH = "scheduler/solve/finish.py"
LEAST_OPEN = "scheduler/solve/bounds/least_exposure.py"
ENERGY = "scheduler/solve/bounds/energy.py"
TABLE = "scheduler/trench/rules/cover_rules.py"

SORTED = "What follows in the sorted list is left out one by one instead of all at once."
ONE_PRICE = "All bounds of one booking carry the price of moving it."
ONE_TICKET = "All bounds of one ticket carry the same expiry and the same renewals."
EMPTY = "What lies outside ends before it begins and is dropped when the stretches are joined."
MASKED = "The wiring's own column of the row asks for no more, and the lesser of the two counts."

SAME_SET = "An answer for just these rules was taken before this line is reached."
ONE_STEP = "The first step is another, the sets that are asked for to the end are the same."

BEYOND = "More than there is, is more than this."

NONE_BEFORE = "No window opens before the first tick."
NO_FEET = "A stretch of no length adds no foot nights."
NO_USES = "A group without looks has no uses."
ONLY_AFTER = "More units than there are by the finish pass after it only."
NOT_SHORT = "What is enough for all at once is never short."

ONE_ALONE = "One activity alone is done no earlier than the links already say."

_CLIMB = "while bound {} ceiling and tries < MOST_TRIES and (hit := refuted(bound)) is not None:"
_NEXT = "if high {} low > 1 and (hit := refuted(high - 1)) is None:"
_USERS = "for start, units in sorted(uses, reverse=True) if len(uses) > {} else ():"
_HIT = "hit = _Refuted(supply.words, finish + 1 if later is None else max(later, finish {}))"
_CLAIMS = "events = [(c.start, 1, c) for c in claims if c.start {} c.finish]"
_AS_IT_IS = "value = round(goal.amount(network, schedule) / goal.per_unit, {})"
_LEAST_FINISH = (
    "least = value if impossible and start is not None else {} if found is None or impossible else round(found.bound)"
)
_PASSED = "return self.capacity * self.calendar.open_ticks({}, tick)"
_LEAST = "least = ticks if least is None or ticks {} least else least"
_SHORTEST = "shortest = min((network.by_id[x].work for x in group.looks), default={})"
_ROOMS = "rooms = [r for c in normal.capacities if c.is_room and len((r := _room(network, c, order, held)).uses) > {}]"
_LIMITS = "limits = [c for c in normal.capacities if c.has_stretches and sum(u.units for u in c.uses) {} c.units]"
_TOLD = "if (answer.impossible and asked {} key) or (answer.schedule is not None and asked {} key):"
_PRICED = "+ sum(normal.priced[record][{}].price or 0.0 for record in normal.broken(schedule.dates))"
_LAST = "last, limit = max(b.bounded(dates[b.activity]) for b in bounds), bounds[{}].at"
_BUILDING = '"under_building": {{"direct": 0, "metal": 0, "plastic": 0, "dwelling_branch": {}, "low_voltage": {}}},'
_STREET = '"street": {{"direct": 24, "metal": 24, "plastic": 24, "dwelling_branch": {}, "low_voltage": {}}},'
_DRIVE = '"residential_drive": {{"direct": 18, "metal": 18, "plastic": 18, "dwelling_branch": 12, "low_voltage": {}}},'

EQUIVALENT: dict[tuple[str, str, str], str] = {
    (MEASURES, "break", "continue"): SORTED,
    (MEASURES, _LAST.format("0"), _LAST.format(" -1")): ONE_TICKET,
    (MEASURES, "for later in bounds[0].later:", "for later in bounds[ -1].later:"): ONE_TICKET,
    (MEASURES, "for later in bounds[0].later", "for later in bounds[ -1].later"): ONE_TICKET,
    (MEASURES, _PRICED.format("0"), _PRICED.format(" 1")): ONE_PRICE,
    (MEASURES, _PRICED.format("0"), _PRICED.format(" -1")): ONE_PRICE,
    (MEASURES, "if closes > first and opens < last", "if closes > first or opens < last"): EMPTY,
    (MEASURES, "if closes > first and opens < last", "if closes >= first and opens < last"): EMPTY,
    (MEASURES, "if closes > first and opens < last", "if closes > first and opens <= last"): EMPTY,
    (
        COVER,
        'roads = 24.0 if reach.place in ("street", "residential_drive") else 0.0',
        'roads = 24.0 if reach.place in ("street", "residential_drive") else -1.0',
    ): "No row of the table asks for less than 6 in, so that any smaller number changes nothing.",
    (COVER, "volts = line.voltage_v or 600.0", "volts = line.voltage_v or 599.0"): "The row reaches to 600 V.",
    (TABLE, _BUILDING.format(0, 0), _BUILDING.format(1, 0)): MASKED,
    (TABLE, _BUILDING.format(0, 0), _BUILDING.format(0, 1)): MASKED,
    (TABLE, _STREET.format(24, 24), _STREET.format(25, 24)): MASKED,
    (TABLE, _STREET.format(24, 24), _STREET.format(24, 25)): MASKED,
    (TABLE, _DRIVE.format(18), _DRIVE.format(19)): MASKED,
    (CONFLICTS, _TOLD.format("<=", ">="), _TOLD.format("<", ">=")): SAME_SET,
    (CONFLICTS, _TOLD.format("<=", ">="), _TOLD.format("<=", ">")): SAME_SET,
    (CONFLICTS, "size = max(1, len(left) // 2)", "size = max(1, len(left) * 2)"): ONE_STEP,
    (CONFLICTS, "size = max(1, len(left) // 2)", "size = max( 0, len(left) // 2)"): ONE_STEP,
    (DESTRUCTIVE, _CLIMB.format("<"), _CLIMB.format("<=")): "At the known finish the bound cannot be raised further.",
    (
        DESTRUCTIVE,
        _NEXT.format("-"),
        _NEXT.format("+"),
    ): "With no finish between the two, the lower one was refuted just now.",
    (DESTRUCTIVE, _HIT.format("+ 1"), _HIT.format("- 1")): ONLY_AFTER,
    (DESTRUCTIVE, _HIT.format("+ 1"), _HIT.format("+ 0")): ONLY_AFTER,
    (
        DESTRUCTIVE,
        "high -= 1",
        "high -= 0",
    ): "The halving between the two takes a step more and ends at the same finish.",
    (DESTRUCTIVE, "done = 0", "done = -1"): "No start lies before the first tick.",
    (DESTRUCTIVE, "break", "continue"): "When nothing is raised, the rounds left raise nothing either.",
    (DESTRUCTIVE, "if len(activities) < 2:", "if len(activities) < 1:"): ONE_ALONE,
    (DESTRUCTIVE, _USERS.format("1"), _USERS.format("0")): ONE_ALONE,
    (FINISH, _LEAST_FINISH.format("0"), _LEAST_FINISH.format("1")): "Where no plan exists no bound is told.",
    (STAGES, _AS_IT_IS.format(4), _AS_IT_IS.format(5)): "Tenths of feet and cents have no fifth decimal.",
    (LEAST_OPEN, "if amount > 0", "if amount > -1"): NO_FEET,
    (LEAST_OPEN, "if amount > 0", "if amount >= 0"): NO_FEET,
    (LEAST_OPEN, "far = len(frame.axis) + 1", "far = len(frame.axis) + 2"): BEYOND,
    (ENERGY, _PASSED.format("0"), _PASSED.format(" -1")): NONE_BEFORE,
    (ENERGY, _LEAST.format("<"), _LEAST.format("<=")): "The same number of ticks is the same.",
    (ENERGY, "if not shared and most < len(looks):", "if not shared or most < len(looks):"): NOT_SHORT,
    (ENERGY, "break", "continue"): "Nothing is fewer than the work itself.",
    (ENERGY, _SHORTEST.format("0"), _SHORTEST.format(" 1")): NO_USES,
    (ENERGY, _SHORTEST.format("0"), _SHORTEST.format(" -1")): NO_USES,
    (ENERGY, _ROOMS.format("1"), _ROOMS.format("0")): NOT_SHORT,
    (ENERGY, _LIMITS.format(">"), _LIMITS.format(">=")): NOT_SHORT,
    (SHARING, "if sign > 0:", "if sign >= 0:"): "A sign is one up or one down, never none.",
    (SHARING, "peak: int = 0", "peak: int = -1"): BEYOND,
    (SHARING, "peak: int = 0", "peak: int = 1"): BEYOND,
    (SHARING, _CLAIMS.format("<"), _CLAIMS.format("<=")): "What takes no time is added and taken away at one tick.",
    (
        "scheduler/audit/order_checks.py",
        "bound = f\"{lag} {'before' if link.lag < 0 else 'after'} {bound}\"",
        "bound = f\"{lag} {'before' if link.lag <= 0 else 'after'} {bound}\"",
    ): "Only a link with a lag comes here.",
    (
        "scheduler/audit/visit_checks.py",
        "if rule.max_ft is not None and feet > rule.max_ft + FEET_TOLERANCE:",
        "if rule.max_ft is not None and feet >= rule.max_ft + FEET_TOLERANCE:",
    ): "Feet never stand a millionth of a foot above the most, to the last bit.",
}
"""By source file, changed line and what it was changed to."""
