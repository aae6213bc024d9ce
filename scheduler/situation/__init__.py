"""The site as it stands at a moment: what is recorded, what is planned, and what is due and not reported."""

from scheduler.network.parties import ids_to_call, parties_of
from scheduler.situation.breaches import Breach
from scheduler.situation.call_list import (
    PhoneCall,
    about_what,
    agreed_ahead,
    calls_of,
    how_it_stands,
    phone_calls,
    said_in_call,
    ticked_off,
)
from scheduler.situation.call_words import CallDue, when_to_call
from scheduler.situation.day_as_planned import AsPlanned, StillToSay, Wanted, all_as_planned
from scheduler.situation.hours_ahead import HOURS, NextJob, in_the_way, next_hours
from scheduler.situation.late_words import last_words
from scheduler.situation.plan_in_force import PlanInForce
from scheduler.situation.situation import Situation, situation_at
from scheduler.situation.stretch_layers import LayerState, StretchStands, layer_states
from scheduler.situation.verdict import (
    PROPOSAL,
    as_proposed,
    before_anybody_enters,
    before_it,
    expected,
    expected_briefly,
    held_up,
    to_make_good,
    verdict,
    why_not,
)
from scheduler.situation.work_states import Blocker, WorkStands, WorkState

__all__ = [
    "HOURS",
    "PROPOSAL",
    "AsPlanned",
    "Blocker",
    "Breach",
    "CallDue",
    "LayerState",
    "NextJob",
    "PhoneCall",
    "PlanInForce",
    "Situation",
    "StillToSay",
    "StretchStands",
    "Wanted",
    "WorkStands",
    "WorkState",
    "about_what",
    "agreed_ahead",
    "all_as_planned",
    "as_proposed",
    "before_anybody_enters",
    "before_it",
    "calls_of",
    "expected",
    "expected_briefly",
    "held_up",
    "how_it_stands",
    "ids_to_call",
    "in_the_way",
    "last_words",
    "layer_states",
    "next_hours",
    "parties_of",
    "phone_calls",
    "said_in_call",
    "situation_at",
    "ticked_off",
    "to_make_good",
    "verdict",
    "when_to_call",
    "why_not",
]
