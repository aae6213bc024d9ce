"""Faults that change nothing anybody can see, each with the reason; they are left out of the score."""

from __future__ import annotations

MEASURES = "scheduler/measures.py"
SORTED = "What follows in the sorted list is left out one by one instead of all at once."
ONE_PRICE = "All bounds of one booking carry the price of moving it."
ONE_TICKET = "All bounds of one ticket carry the same expiry and the same renewals."

EQUIVALENT: dict[tuple[str, str, str], str] = {
    (MEASURES, "break", "continue"): SORTED,
    (
        MEASURES,
        "last, limit = max(b.bounded(dates[b.activity]) for b in bounds), bounds[0].at",
        "last, limit = max(b.bounded(dates[b.activity]) for b in bounds), bounds[ -1].at",
    ): ONE_TICKET,
    (MEASURES, "for later in bounds[0].later:", "for later in bounds[ -1].later:"): ONE_TICKET,
    (MEASURES, "for later in bounds[0].later", "for later in bounds[ -1].later"): ONE_TICKET,
    **{
        (
            MEASURES,
            *(
                f"+ sum(normal.priced[record][{n}].price or 0.0 for record in normal.broken(schedule.dates))"
                for n in pair
            ),
        ): ONE_PRICE
        for pair in (("0", " 1"), ("0", " -1"))
    },
}
"""By source file, changed line and what it was changed to."""
