"""Checks of what people dig and cover under: a locate ticket, and tests held long enough."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.ground import Line
from scheduler.site.locates import without_ticket
from scheduler.trench.checks.view import Spot, View, span_in, span_of
from scheduler.trench.register import RULES
from scheduler.trench.rules.proof_rules import MAIN_TEST_PSI, STRETCHED, STRETCHES, make_up_gph
from scheduler.units import format_amount, format_gallons

_CUSTOMER = "customer"


def _rule_of(line: Line) -> str | None:
    if line.kind == "water":
        return "test-hold-main" if line.use == "main" else "test-hold-water"
    if line.kind == "sewer":
        return "test-hold-sewer"
    return "test-hold-gas" if line.kind == "gas" and line.owner == _CUSTOMER else None


def tickets(view: View) -> Iterator[Spot]:
    """A locate ticket covers every alignment that is dug, unless it says why none is asked for."""
    tickets = view.site.locate_tickets
    uncovered = {a.id for a in without_ticket(view.site)}
    index_of = {a.id: i for i, a in enumerate(view.site.alignments)}
    for reach in view.site.reaches:
        if reach.alignment not in uncovered:
            continue
        start, end = span_of(reach)
        index = index_of[reach.alignment]
        yield Spot(
            rule="locate-ticket",
            subject=(reach.alignment,),
            alignment=reach.alignment,
            from_ft=start,
            to_ft=end,
            text=f"Nobody digs along {view.site.alignments[index].name}: no locate ticket covers it.",
            found="no ticket" if not tickets else "tickets for other alignments only",
            required="a locate ticket that names this alignment, or one that names none and covers all",
            source=RULES["locate-ticket"].cited,
            path=("alignments", index),
        )


def holds(view: View) -> Iterator[Spot]:
    """A line's pressure or leak test is held long enough."""
    for reach, line, _ in view.placed():
        rule = _rule_of(line)
        if rule is None or line.test is None or line.test.kind not in ("pressure", "leak"):
            continue
        asked = view.book.get(rule, reach=reach, lines=[line])
        if line.test.hold_hours >= asked.value - 1e-6:
            continue
        start, end = span_in(line, reach)
        yield Spot(
            rule=rule,
            subject=(line.id,),
            alignment=reach.alignment,
            from_ft=start,
            to_ft=end,
            text=f"{line.name} is not held under test long enough.",
            found=f"{60 * line.test.hold_hours:.0f} minutes",
            required=f"at least {60 * asked.value:.0f} minutes",
            source=asked.source,
            remedy=_allowance(line, asked.value) if rule == "test-hold-main" else "",
        )


def _allowance(line: Line, hours: float) -> str:
    length = sum(abs(s.to - s.from_) for s in line.route)
    psi = line.test.pressure_psi if line.test and line.test.pressure_psi else MAIN_TEST_PSI
    gallons = hours * make_up_gph(length_ft=length, diameter_in=line.size_in, pressure_psi=psi)
    if line.material in STRETCHES:
        return f"Raise `hold_hours` of its test to {hours:g}; {STRETCHED}"
    return (
        f"Raise `hold_hours` of its test to {hours:g}; at {format_amount(psi, 'psi')} this main may take "
        f"{format_gallons(gallons)} of make-up water in that time."
    )
