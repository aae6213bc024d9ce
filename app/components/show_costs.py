"""What a plan costs, line by line, folded away below its sum."""

from __future__ import annotations

import streamlit as st

from app.words import amount, escape, listed
from scheduler.plan import CostLine, PlanCosts
from scheduler.units import told_measure

HEAD = "| What | Quantity | Unit | Rate | Dollars | Where the rate stands |\n| --- | ---: | --- | ---: | ---: | --- |"


def show_costs(costs: PlanCosts) -> None:
    """Show the sum, and in a fold each line with where its rate can be changed, and what has no rate."""
    what = "What is still to come costs" if costs.still_to_come else "What it costs"
    with st.expander(f"{what}: {costs.total:,.0f} dollars"):
        st.markdown("\n".join([HEAD, *(_row(line) for line in costs.lines)]))
        if costs.left_out:
            st.write("No rate is given for these, and they are left out of the sum:")
            st.markdown(listed(escape(said) for said in costs.left_out))


def _row(line: CostLine) -> str:
    quantity, unit = told_measure(line.quantity, line.unit)
    rate = f"{line.amount / (quantity or 1.0):,.2f}"
    cells = escape(line.words), amount(quantity), escape(unit), rate, f"{line.amount:,.2f}", escape(line.where)
    return f"| {' | '.join(cells)} |"
