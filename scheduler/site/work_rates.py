"""WorkRates that turn quantities into hours; each may be given anew in the site file."""

from __future__ import annotations

from scheduler.site.fields import Money, NonNegative, Positive, Record, Share
from scheduler.site.ground import LineKind

SITE_FILE = "site file"
_SOURCE = "Source: "


class WorkRates(Record):
    """How fast a small crew works, where no trade, machine or line says it of itself."""

    lay_power_ft_per_hour: Positive = 40.0
    """Feet of one power conduit or cable that a crew lays. Source: common practice."""
    lay_lighting_ft_per_hour: Positive = 45.0
    """Feet of one lighting conduit that a crew lays. Source: common practice."""
    lay_communications_ft_per_hour: Positive = 50.0
    """Feet of one communications conduit that a crew lays. Source: common practice."""
    lay_water_ft_per_hour: Positive = 30.0
    """Feet of water pipe that a crew lays. Source: common practice."""
    lay_reclaimed_ft_per_hour: Positive = 30.0
    """Feet of reclaimed water pipe that a crew lays. Source: common practice."""
    lay_irrigation_ft_per_hour: Positive = 60.0
    """Feet of irrigation pipe that a crew lays. Source: common practice."""
    lay_sewer_ft_per_hour: Positive = 20.0
    """Feet of sewer that a crew lays to grade. Source: common practice."""
    lay_storm_ft_per_hour: Positive = 15.0
    """Feet of storm drain that a crew lays to grade. Source: common practice."""
    lay_gas_ft_per_hour: Positive = 40.0
    """Feet of gas pipe that a crew lays. Source: common practice."""
    each_further_conduit: Share = 0.5
    """Share of the first conduit's time that each further one of a bank takes. Source: common practice."""
    protect_ft_per_hour: Positive = 30.0
    """Trench in which the machine sets shields. Source: common practice."""
    pump_set_up_hours: NonNegative = 1.0
    """Pumps and a sump set for one reach. Source: common practice."""
    pothole_hours: Positive = 0.5
    """The least to expose one marked line by hand or vacuum. Source: common practice."""
    bed_cy_per_hour: Positive = 5.0
    """Bedding placed and levelled by a crew. Source: common practice."""
    ribbon_ft_per_hour: Positive = 400.0
    """Warning ribbon rolled out. Source: common practice."""
    cap_hours: Positive = 0.5
    """To cap, tape and label one stub. Source: common practice."""
    joint_check_hours: Positive = 0.25
    """To make a joint that no test takes in and look it over under working pressure. Source: common practice."""
    prove_set_up_hours: NonNegative = 0.5
    """To make ready for a mandrel or a pull string in one run of conduit. Source: common practice."""
    prove_ft_per_hour: Positive = 200.0
    """Conduit through which a mandrel and a pull string are drawn. Source: common practice."""
    pull_set_up_hours: NonNegative = 1.0
    """To make ready for one pull of conductors. Source: common practice."""
    pull_ft_per_hour: Positive = 120.0
    """Conductors drawn into one run of conduit. Source: common practice."""

    traffic_set_up_hours: Positive = 1.0
    """Signs, tapers and cones set for one reach in a street. Source: common practice."""
    traffic_take_down_hours: Positive = 0.5
    """The same taken away. Source: common practice."""
    traffic_cost_per_night: Money = 60.0
    """Rent and upkeep of the signs and cones of one reach. Source: common practice."""
    machine_delivery_hours: Positive = 1.0
    """An excavator unloaded and checked. Source: common practice."""
    machine_removal_hours: Positive = 1.0
    """An excavator loaded and taken away. Source: common practice."""
    shields_out_ft_per_hour: Positive = 60.0
    """Trench in which the machine draws shields again. Source: common practice."""
    pump_out_hours: Positive = 0.5
    """Pumps and sump of one reach taken out. Source: common practice."""
    record_ft_per_hour: Positive = 120.0
    """Trench in which one layer is photographed and its covers measured. Source: common practice."""
    connection_hours: Positive = 2.0
    """One end of a wet line connected: tap, corporation, meter or coupling. Source: common practice."""
    disinfect_hours: Positive = 1.0
    """A water line filled with chlorine. Source: common practice."""
    disinfect_contact_hours: NonNegative = 24.0
    """Elapsed time that the chlorine stays in the line. Source: AWWA C651 (24 h of contact)."""
    flush_hours: Positive = 1.0
    """A water line flushed and sampled. Source: common practice."""
    tracer_check_hours: Positive = 0.5
    """The tracer wire of one line traced from end to end. Source: common practice."""
    temporary_paving_sf_per_hour: Positive = 300.0
    """Temporary paving placed and rolled. Source: common practice."""
    temporary_paving_days: NonNegative = 3.0
    """Elapsed days that temporary paving lies at the least before final paving. Source: common practice."""
    concrete_cure_hours: NonNegative = 72.0
    """Elapsed time from placing concrete to traffic on it. Source: common practice (ACI 308R: 7 days, or 70 % of
    its strength)."""
    density_result_hours: NonNegative = 24.0
    """Elapsed time from a compaction test to the laboratory's result. Source: common practice."""
    truck_cy: Positive = 10.0
    """Loose material that one truck carries. Source: common practice (tandem dump truck)."""
    truck_tons: Positive = 14.0
    """Weight that one truck carries [short tons]. Source: common practice (tandem dump truck)."""
    haul_trucks: Positive = 2.0
    """Trucks that haul spoil at once. Source: common practice."""
    haul_round_trip_minutes: Positive = 45.0
    """From one load of a truck to its next, loading and tipping included. Source: common practice."""
    spoil_tons_per_cy: Positive = 1.25
    """Loose spoil [short tons]. Source: common practice (2,500 lb per loose cu yd)."""
    select_tons_per_cy: Positive = 1.6
    """Bedding and select fill in place [short tons]. Source: common practice (118 lb per cu ft)."""
    select_swell: Positive = 1.15
    """Loose volume of bedding and select fill for one compacted in place. Source: common practice."""
    asphalt_in: Positive = 4.0
    """Thickness of asphalt put back. Source: common practice."""
    asphalt_lb_per_cf: Positive = 145.0
    """Asphalt compacted in place. Source: common practice (145 lb per cu ft)."""
    concrete_in: Positive = 6.0
    """Thickness of concrete put back. Source: common practice."""
    plates_per_hour: Positive = 6.0
    """Steel plates of 8 by 20 ft that the machine sets or lifts. Source: common practice."""
    plate_delivery_hours: NonNegative = 0.5
    """To unload the plates for one way, or to load them again. Source: common practice."""
    plate_cost_per_night: Money = 12.0
    """Rent of one steel plate. Source: common practice."""
    fence_cost_per_ft_night: Money = 0.3
    """Rent of fence and lights along one side of a trench. Source: common practice."""

    def laying(self, kind: LineKind) -> tuple[float, str]:
        """Return the feet of one line of a kind that a crew lays in an hour, and where the rate comes from."""
        name = f"lay_{kind}_ft_per_hour"
        return getattr(self, name), self.cited(name)

    def cited(self, name: str) -> str:
        """Return where a rate comes from: its published source, or the site file where that gives another value."""
        if getattr(self, name) != type(self).model_fields[name].default:
            return f"{SITE_FILE}: rates, {name}"
        return source_of(name)


def source_of(name: str) -> str:
    """Return the source of a rate's default, as its description ends with it."""
    told = WorkRates.model_fields[name].description or ""
    return " ".join(told.partition(_SOURCE)[2].split()).removesuffix(".")


def sentence_of(name: str) -> str:
    """Return what a rate says, without its source."""
    return " ".join((WorkRates.model_fields[name].description or "").partition(_SOURCE)[0].split())
