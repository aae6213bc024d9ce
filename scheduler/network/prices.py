"""What time and open trench cost, as the site file gives it."""

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
