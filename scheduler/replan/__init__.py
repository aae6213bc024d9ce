"""After a delay: what has happened is fixed, the rest is planned again in up to four ways."""

from scheduler.replan.replan_records import Aim, Alternative, Move, Replanning, TakenAsDone

__all__ = [
    "Aim",
    "Alternative",
    "Move",
    "Replanning",
    "TakenAsDone",
]
