"""What looking again at what failed costs, beside the bill of a plan: the plan before did not know of it."""

from __future__ import annotations

from scheduler.costs.billing import no_rate
from scheduler.situation.job import StandingJob


def fees_again(job: StandingJob) -> float:
    """Return the fees for looking again at what failed, as far as the site file gives them [dollars]."""
    return sum((fee or 0.0) * times for _, _, fee, times in _failed(job))


def again_left_out(job: StandingJob) -> tuple[str, ...]:
    """Return a sentence for each inspection to be made again whose fee for that is not given."""
    return tuple(
        no_rate(f"{about}, looking again", times, "look", f"inspections, {of}: reinspection_fee")
        for of, about, fee, times in _failed(job)
        if fee is None
    )


def _failed(job: StandingJob) -> list[tuple[str, str, float | None, int]]:
    """Return, by inspection that failed: its id, its name, the fee of one more look, and how many are made again."""
    counted = ((p, len(job.facts.failed.keys() & set(p.activities))) for p in job.parties)
    return [(p.of, p.about, p.reinspection_fee, times) for p, times in counted if times]
