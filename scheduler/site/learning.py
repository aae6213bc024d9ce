"""Learning: work of one kind that takes less from stretch to stretch."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from scheduler.site.fields import Record, Share
from scheduler.site.work_kinds import WorkKind


class Learning(Record):
    """Work that goes quicker from stretch to stretch, as a trade gets used to it.

    The n-th reach along an alignment in which a trade does work of one kind takes n^log2(rate) of the time that it
    would take as the first, and never less than `least_share` of it. Reaches are counted by their stations, whatever
    the order of the plan. Hours given by activity in `durations` stay as they are. Source: common practice; T. P.
    Wright, Factors Affecting the Cost of Airplanes, Journal of the Aeronautical Sciences 3 (1936), said of the time of
    each unit as J. R. Crawford did (1944).
    """

    rate: Annotated[float, Field(ge=0.5, le=1)] | None = None
    """Share of the time that is left each time the number of reaches doubles, such as 0.9; None: nobody learns."""
    least_share: Share = 0.7
    """No reach takes less than this share of the time of a first one."""
    kinds: list[WorkKind] = []
    """Kinds of work that go quicker; empty: all from the surface cut to the surface put back, without tests."""
