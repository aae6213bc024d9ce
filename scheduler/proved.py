"""How sure the finish of a plan is, in words."""

from __future__ import annotations

from scheduler.plan import Plan
from scheduler.solve.outcome import FINISH, GIVEN_UP
from scheduler.spoken import moment


def is_best(plan: Plan) -> bool:
    """Whether no plan can finish earlier, by proof."""
    return plan.status == "optimal" and (plan.finish_bound is None or plan.finish == plan.finish_bound)


def proof(plan: Plan) -> str:
    """Say how sure the finish is."""
    if is_best(plan):
        return "Proved: no plan that keeps these rules finishes earlier."
    if plan.finish_bound and any(s.name == FINISH and s.bound_kind == GIVEN_UP for s in plan.stages):
        return f"Proved: {moment(plan.finish_bound)} is the earliest finish; this plan gives some of that up."
    if plan.status == "infeasible":
        return "Proved: these rules cannot all be kept."
    said = "Stopped before it was proved best." if plan.status == "stopped" else "Not proved best."
    return f"{said} No plan can finish before {moment(plan.finish_bound)}." if plan.finish_bound else said
