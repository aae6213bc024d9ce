"""Planning again: after a delay what is left, in up to five ways; and dates made elsewhere, with the fewest moves."""

from scheduler.replan.date_findings import Mend, Mends, mends
from scheduler.replan.replan_records import Aim, Alternative, Differences, Move, Replanning, TakenAsDone

__all__ = [
    "Aim",
    "Alternative",
    "Differences",
    "Mend",
    "Mends",
    "Move",
    "Replanning",
    "TakenAsDone",
    "mends",
]
