"""Margin that the user wants planned into the work."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from scheduler.site.fields import Id, Record, Text

Percent = Annotated[int, Field(ge=0, le=200)]


class Margin(Record):
    """Contingency: working time beyond what quantities give, planned into the work of own people and machines.

    An inspector's look, outside work at an appointment, and waits get none. Where a trade and a kind are both named,
    the larger of the two counts.
    """

    percent: Percent = 0
    """For all such work that nothing else is said of."""
    by_trade: dict[Id, Percent] = {}
    """For all work of a trade, by its id, in place of `percent`."""
    by_kind: dict[Text, Percent] = {}
    """For one kind of work, such as `dig`, `lay` or `test`, as plans name it, in place of `percent`."""
