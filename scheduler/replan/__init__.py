"""Planning again: after a delay what is left, in up to four ways; and dates made elsewhere, with the fewest moves."""

from scheduler.replan.date_findings import Mend, Mends, mends
from scheduler.replan.replan_records import Aim, Alternative, Move, Replanning, TakenAsDone

__all__ = [
    "Aim",
    "Alternative",
    "Mend",
    "Mends",
    "Move",
    "Replanning",
    "TakenAsDone",
    "mends",
]
