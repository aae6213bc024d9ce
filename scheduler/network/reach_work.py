"""The work that opens one reach: surface cut, hand exposure, dig, protective system, bedding."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from scheduler.network.kind import Kind
from scheduler.network.network_draft import SITE_FILE, NetworkDraft, Place
from scheduler.network.pieces import Piece
from scheduler.network.setting import MACHINE, ReachWork, Setting
from scheduler.network.site_steps import asked
from scheduler.site.ground import ExistingLine, Reach
from scheduler.spoken import count
from scheduler.trench.earth import excavator_bcy_per_hour
from scheduler.trench.ordered import haul_hours, loads_of
from scheduler.trench.quantities import quantities
from scheduler.trench.section_records import Quantities, Section
from scheduler.units import format_depth, format_volume

PAVED = ("asphalt", "concrete")
SUBPART_P = "29 CFR 1926.652"


@dataclass(slots=True)
class Here:
    """One reach while its work is being made."""

    setting: Setting
    draft: NetworkDraft
    reach: Reach
    section: Section
    amounts: Quantities
    """Of the whole reach."""
    work: ReachWork
    setting_of: dict[str, str]
    """Setting activity by structure, shared by all reaches."""
    _amounts_of: dict[str, Quantities] = field(default_factory=dict)

    def of_piece(self, piece: Piece) -> Quantities:
        """Return the amounts of one piece."""
        if piece.length_ft == self.amounts.length_ft:
            return self.amounts
        if piece.id not in self._amounts_of:
            site = self.setting.site
            self._amounts_of[piece.id] = quantities(site, self.section, length_ft=piece.length_ft, marked_crossings=0)
        return self._amounts_of[piece.id]

    @property
    def place(self) -> Place:
        """Where its activities stand."""
        return Place(self.reach.id, self.reach.alignment, self.reach.from_, self.reach.to)

    @property
    def name(self) -> str:
        """What people call it."""
        return self.setting.where(self.reach)

    @property
    def people(self) -> str:
        """The general trade's people, as a group in the reach."""
        return self.setting.site.general_trade.id

    def dig_rate(self) -> float:
        """Return bank cubic yards dug in an hour: by the excavator, or by hand without one."""
        machine = self.setting.machine("excavator")
        if machine is None:
            return self.setting.site.backfill.hand_dig_cy_per_hour
        return excavator_bcy_per_hour(machine, self.reach.earth)

    def then(self, id_: str, *, because: str) -> None:
        """Let an activity follow what opened the reach so far."""
        if self.work.opened:
            self.draft.link(self.work.opened, id_, because=because)
        self.work.opened = id_


def begin_reach(
    setting: Setting, draft: NetworkDraft, reach: Reach, crossings: Iterable[ExistingLine], structures: dict[str, str]
) -> Here:
    """Make everything from the surface cut to the bedding of a reach."""
    marked = list(crossings)
    section = setting.sections[reach.id]
    length = reach.to - reach.from_
    amounts = quantities(setting.site, section, length_ft=length, marked_crossings=len(marked))
    here = Here(setting, draft, reach, section, amounts, ReachWork(), structures)
    if reach.surface in PAVED:
        _cut(here)
    if marked:
        _expose(here, marked)
    _dig(here)
    _protect(here)
    if amounts.bedding_cy > 0:
        _bed(here)
    return here


def _cut(here: Here) -> None:
    reach, backfill = here.reach, here.setting.site.backfill
    id_ = here.draft.add(
        f"{reach.id}/cut",
        f"Saw-cut the {reach.surface}, {here.name}",
        Kind.SURFACE_CUT,
        (reach.to - reach.from_) / backfill.cut_ft_per_hour,
        here.setting.with_machines(reach, "saw", crew=True, group=here.people),
        because=f"The {reach.surface} is cut clean before the trench is dug.",
        source=f"{SITE_FILE}: backfill, cut_ft_per_hour",
        place=here.place,
    )
    here.work.digs.append(id_)
    here.then(id_, because="")


def _expose(here: Here, marked: list[ExistingLine]) -> None:
    backfill = here.setting.site.backfill
    by_volume = here.amounts.hand_bank_cy / backfill.hand_dig_cy_per_hour
    names = ", ".join(f"{m.kind} of {m.owner}" for m in marked)
    id_ = here.draft.add(
        f"{here.reach.id}/pothole",
        f"Pothole {len(marked)} marked line{'s' if len(marked) > 1 else ''} by hand, {here.name}",
        Kind.POTHOLE,
        max(by_volume, here.setting.site.rates.pothole_hours * len(marked)),
        here.setting.with_machines(here.reach, "vacuum", crew=True, group=here.people),
        because=f"Marked lines ({names}) are found by hand or vacuum before the machine digs near them.",
        source="29 CFR 1926.651(b)(3); CGA Best Practices 5-20 (tolerance zone)",
        place=here.place,
    )
    here.work.digs.append(id_)
    here.then(id_, because="The pavement is cut before hand digging starts under it.")


def _dig(here: Here) -> None:
    machine = here.setting.machine("excavator")
    cubic_yards = here.amounts.bank_cy - here.amounts.hand_bank_cy
    hours, hauled = _hauled(here, cubic_yards / here.dig_rate())
    id_ = here.draft.add(
        f"{here.reach.id}/dig",
        f"Dig {here.name}",
        Kind.DIG,
        hours,
        here.setting.with_machines(here.reach, "excavator", crew=False, group=MACHINE if machine else here.people),
        because=f"The trench here is {format_depth(here.section.depth_in)} deep; {format_volume(cubic_yards)} in the "
        f"bank.{hauled}",
        source=f"{SITE_FILE}: equipment; quantities of the section" if machine else f"{SITE_FILE}: backfill",
        place=here.place,
    )
    here.work.digs.append(id_)
    here.then(id_, because="The machine digs only after the surface is cut and marked lines are potholed.")


def _hauled(here: Here, hours: float) -> tuple[float, str]:
    """Return the hours of a dig of which trucks haul the spoil, as far as the site file asks, and that in words."""
    spoil, rates = here.amounts.spoil_over_cy, here.setting.site.rates
    if here.reach.spoil != "haul" or not asked(here.setting, "hauling"):
        return hours, ""
    loads = loads_of(loose_cy=spoil, tons=spoil * rates.spoil_tons_per_cy, rates=rates)
    hauling = haul_hours(loads, rates)
    slower = ", which is slower than the machine" if hauling > hours else ""
    said = f" {count(loads, 'truck load')} of spoil, {rates.haul_trucks:g} trucks: {hauling:.1f} h{slower}."
    return max(hours, hauling), said


def _protect(here: Here) -> None:
    shield = here.section.protection in ("shield", "engineer")
    if not shield and not here.reach.groundwater:
        return
    rates = here.setting.site.rates
    hours = (here.reach.to - here.reach.from_) / rates.protect_ft_per_hour if shield else 0.0
    hours += rates.pump_set_up_hours if here.reach.groundwater else 0.0
    what = [w for w, yes in (("shields", shield), ("pumps", here.reach.groundwater)) if yes]
    id_ = here.draft.add(
        f"{here.reach.id}/protect",
        f"Set {' and '.join(what)}, {here.name}",
        Kind.PROTECT,
        hours,
        here.setting.with_machines(here.reach, "excavator", crew=True, group=MACHINE),
        because="Nobody enters until the sides are held and the water is out; the competent person decides.",
        source=f"{SUBPART_P}; rate {rates.cited('protect_ft_per_hour' if shield else 'pump_set_up_hours')}",
        place=here.place,
    )
    here.then(id_, because="The protective system follows the dig.")


def _bed(here: Here) -> None:
    rates = here.setting.site.rates
    id_ = here.draft.add(
        f"{here.reach.id}/bed",
        f"Bed {here.name}",
        Kind.BED,
        here.amounts.bedding_cy / rates.bed_cy_per_hour,
        here.setting.crew(here.setting.site.general_trade.id, here.reach),
        because=f"{format_depth(here.section.bedding_in)} of bedding carries the lowest lines along their whole "
        "length.",
        source=f"{SITE_FILE}: backfill, bedding_in; rate {rates.cited('bed_cy_per_hour')}",
        place=here.place,
    )
    here.then(id_, because="Bedding goes onto the finished trench bottom.")
