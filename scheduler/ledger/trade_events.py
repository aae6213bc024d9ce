"""A trade that leaves the job: another firm takes its open work over."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from scheduler.ledger.event_fields import Fact, Ref, Who, Words


class TakenOver(Fact):
    """Another firm does the open work of a trade from a moment on; agreed at `when`, from which its notice counts."""

    name: Literal["taken_over"] = "taken_over"
    trade: Ref
    """The id of the trade whose work it is."""
    firm: Who
    """The firm that does it now."""
    since: AwareDatetime
    """Nothing of that trade's is worked on before."""
    notice_days: Annotated[int, Field(ge=0, le=365)] = 0
    """Working days of the trade's hours that the firm asks for before it first comes."""
    mobilisation_cost: Annotated[float, Field(ge=0, le=10_000_000)] = 0.0
    """What it takes to come to site, in the site's money."""
    why: Words = ""
