"""What a re-planning returns: the alternatives, what moves in each, whom to call, and what holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from scheduler.ledger.events import Event
from scheduler.network.model import Network
from scheduler.plan import Conflict, Plan
from scheduler.schedule import Schedule
from scheduler.situation.call_list import PhoneCall, phone_calls
from scheduler.situation.call_words import CallDue

NOT_ALL_KEPT = "Not all can be kept."
"""Begins what is said of the aim to keep every booking where some had to give."""


class Aim(StrEnum):
    """What an alternative is for."""

    KEEP = "keep every booking"
    SOONEST = "finish soonest"
    CALLS = "fewest calls"
    COST = "least cost"
    LEAST_MOVED = "as little as possible moved"


@dataclass(frozen=True, slots=True)
class Move:
    """One piece of work that is planned for another time than before."""

    activity: str
    name: str
    trade: str
    """Who does it: a trade, an authority or an outside party, by name."""
    was: datetime | None
    """Its start in the plan before; None when it is new."""
    now: datetime
    finish_now: datetime
    outside: bool
    """Whether somebody outside must be told: an inspection or outside work."""
    buys: str
    """Why it moves, or what moving it buys, in a sentence."""
    short_notice: bool = False
    """Whether its people cannot hear of it in time; only where no plan exists without."""
    place: str = ""
    """Where it is, with stations, as at the end of its name; empty: the whole site."""

    @property
    def later_minutes(self) -> int | None:
        """How much later it starts (negative: sooner); None when it is new."""
        return None if self.was is None else round((self.now - self.was).total_seconds() / 60)


@dataclass(frozen=True, slots=True)
class Differences:
    """How an alternative differs from the plan before; every number is after less before."""

    later_minutes: int
    """How much later all is finished; negative: sooner."""
    cost: float
    """Of what is still to come, the fees for looking again included, in the site's money."""
    open_ft_nights: float
    """Open trench over the nights still to come [ft nights]."""
    visits: int
    """Visits of inspectors still to come."""
    people_called: tuple[str, ...]
    """Who is called because of it, by name."""
    people_moved: tuple[str, ...]
    """The trades, authorities and parties of whom any work starts at another time, by name; 'site': nobody's trade."""
    moved: int
    """Pieces of work that start at another time; what has begun is not counted."""
    new: int
    """Pieces of work that the plan before did not have."""
    longer: int
    """Pieces of work that have begun, or begin as before, and end at another time."""
    as_before_from: datetime | None
    """The moment from which on everything is as before; None: to the end something is not."""


@dataclass(frozen=True, slots=True)
class Alternative:
    """One full plan of what is left, audited."""

    aims: tuple[Aim, ...]
    """What it is best for; several when they come to the same plan."""
    plan: Plan
    schedule: Schedule
    network: Network
    """What the schedule keeps: the job as it stands, with the appointments this alternative fixes."""
    finish: datetime
    later_by_minutes: int
    """Against the finish of the plan before; negative: sooner."""
    differences: Differences
    """Against the plan before, had the rest of it gone as planned."""
    moves: tuple[Move, ...]
    calls: tuple[CallDue, ...]
    """Those to make today; what may be called later stands in the plan."""
    trench_open_ft_nights: float
    """From now on."""
    cost: float
    """Of what is still to come, as the bill of the plan has it, with the fees for looking again."""
    cost_left_out: tuple[str, ...]
    """What looking again would add and has no rate in the site file: a sentence for each inspection."""
    proofs: Mapping[Aim, str]
    """For each aim, what is proved, in a sentence."""
    proved: Mapping[Aim, bool]
    """For each aim, whether nothing better for it exists."""
    supposing: tuple[Event, ...] = ()
    """What was only supposed when it was made; such an alternative cannot be accepted."""

    @property
    def phone_calls(self) -> tuple[PhoneCall, ...]:
        """The calls to make today, one for each party and day."""
        return tuple(phone_calls(self.calls, self.plan.data_date.date()))


@dataclass(frozen=True, slots=True)
class TakenAsDone:
    """Work that nobody reported, taken as done because what follows it has begun; never a test or a look."""

    activity: str
    name: str
    trade: str
    """Who does it, by name."""


@dataclass(frozen=True)
class Replanning:
    """What can be done from a moment on, after what the journal says."""

    as_of: datetime
    taken_as_done: tuple[TakenAsDone, ...]
    """What the plans rest on though nobody reported it: to be read first, and put right where it is wrong."""
    network: Network
    """The job as it stands: what happened is fixed at its actual times."""
    frozen: tuple[str, ...]
    """Activities that are done, in the order of the network."""
    before: Plan
    """The plan that was in force."""
    alternatives: tuple[Alternative, ...]
    conflicts: tuple[Conflict, ...]
    """Why there is no plan at all, with ways out; empty when there is one."""
    notes: tuple[str, ...]
    """What was merged, fell away or could not be used, in sentences."""
    impossible: Mapping[Aim, str]
    """Aims that no plan serves, and why."""
    supposing: tuple[Event, ...] = ()
    """What was only supposed: 'what if'; it is not on record."""

    def serving(self, aim: Aim) -> Alternative | None:
        """Return the alternative for an aim; None when there is none."""
        return next((a for a in self.alternatives if aim in a.aims), None)
