"""What time, open trench and the comings of parties cost, as the site file gives it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Rates:
    """Dollars per unit of time, for the `cost` objective and for comparing plans; None: the site file gives none."""

    overhead_per_day: float | None = 0.0
    exposure_per_ft_night: float | None = 0.0
    unpaved_per_ft_night: float | None = 0.0
    """Of trench that is filled and has no pavement again."""
    damages_per_day: float = 0.0
    """Of each day that the finish lies past `damages_from`."""
    damages_from: int | None = None
    """The end of the target's day [tick], where it may be missed at a price; else it is a rule."""


@dataclass(frozen=True, slots=True)
class Mobilisation:
    """What it costs to bring a party to site, once for each run of days it works there.

    A gap of more than `stay_days` calendar days between days with work starts a new run; work in progress keeps the
    party on site from its first day to its last. None: no cost is given.
    """

    id: str
    name: str
    activities: tuple[str, ...]
    cost: float | None
    stay_days: int = 3
    rate_at: str = ""
    """The place of the cost in the site file."""
    crew: str = ""
    """The id of the resource whose days at work are paid for in each coming; '' for a job at one price."""
    least: float | None = 0.0
    """The least that the days at work of one coming are charged; None: the site file gives none."""
