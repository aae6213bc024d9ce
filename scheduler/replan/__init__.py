"""After a delay: what has happened is fixed, the rest is planned again in up to four ways."""

from scheduler.replan.events import last_words
from scheduler.replan.model import Aim, Alternative, Call, Move, Replanning

__all__ = [
    "Aim",
    "Alternative",
    "Call",
    "Move",
    "Replanning",
    "last_words",
]
