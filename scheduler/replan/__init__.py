"""Planning again: after a delay what is left, in up to five ways; and dates made elsewhere, with the fewest moves."""

from scheduler.replan.date_findings import Mend, Mends, mends
from scheduler.replan.moves_told import (
    GROUPS_AT_MOST,
    MoveGroup,
    MovesOfOne,
    by_party,
    move_groups,
    moves_csv,
    moves_said,
    reasons_said,
    shared_reasons,
)
from scheduler.replan.replan_records import NOT_ALL_KEPT, Aim, Alternative, Differences, Move, Replanning, TakenAsDone

__all__ = [
    "GROUPS_AT_MOST",
    "NOT_ALL_KEPT",
    "Aim",
    "Alternative",
    "Differences",
    "Mend",
    "Mends",
    "Move",
    "MoveGroup",
    "MovesOfOne",
    "Replanning",
    "TakenAsDone",
    "by_party",
    "mends",
    "move_groups",
    "moves_csv",
    "moves_said",
    "reasons_said",
    "shared_reasons",
]
