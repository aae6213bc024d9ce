"""Work that every site has beside the trench itself."""

from __future__ import annotations

from scheduler.site.fields import Record


class SiteWork(Record):
    """Work that every site has: where this part stands in the file it is all planned, save what is set to `false`.

    Without this part none of it is, and `check` says so. How long each takes stands under `rates`.
    """

    traffic_control: bool = True
    """Signs and cones are set before a reach in a street is opened, and taken away when it can be driven on."""
    machine_delivery: bool = True
    """Each excavator is brought before its first work and taken away after its last."""
    hauling: bool = True
    """Trucks haul spoil away and bring fill, and where spoil is hauled the dig goes no faster than they do."""
    protection_out: bool = True
    """Shields are drawn and pumps taken out again before the last lifts."""
    cover_evidence: bool = True
    """Each layer is photographed and its covers measured before it is shaded; it may not be covered without."""
    connections: bool = True
    """Water, reclaimed, irrigation and sewer lines are connected at both ends, after their test and before cover."""
    disinfection: bool = True
    """A water line is disinfected, flushed and sampled once it is connected."""
    tracer_check: bool = True
    """The tracer wire of a line is traced from end to end once it is covered."""
    temporary_paving: bool = True
    """Asphalt is put back in two steps: temporary paving on the fill, final paving once that has lain a while."""
    concrete_cure: bool = True
    """Concrete that is put back cures before anybody drives on it."""
    density_result: bool = True
    """Pavement waits for the laboratory's result of the compaction test."""
