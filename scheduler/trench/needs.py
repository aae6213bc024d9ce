"""What a site file must say before a layout rule can be judged: fields of the site, each by its place in the file."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.trench.rule import LayoutRule
from scheduler.trench.rules.surround_rules import NOUNS, clear_id, edge_id

_WIRED = ("lines.kind", "lines.owner", "lines.material", "lines.voltage_v", "reaches.place")
_PIPE = ("lines.kind", "lines.material", "reaches.place")
_RISER = ("structures.kind", "structures.lines", "structures.riser_material")
_BOX = ("structures.kind", "structures.lines", "structures.size_in")
_SECTION = ("lines.cover_in", "lines.offset_in", "lines.size_in", "lines.count")
_BEND = ("lines.bends", "lines.size_in")
_TEST = ("lines.kind", "lines.use", "lines.owner", "lines.test")

_BY_FAMILY: Mapping[str, tuple[str, ...]] = {
    "cover": ("lines.cover_in", *_PIPE),
    "apart": ("lines.offset_in", "lines.cover_in", "lines.size_in", "lines.kind"),
    "cross": ("lines.cover_in", "lines.size_in", "lines.kind", "existing.kind", "existing.depth_in"),
}

_BY_RULE: Mapping[str, tuple[str, ...]] = {
    "cover-power": ("lines.cover_in", *_WIRED, "lines.gfci_20a"),
    "cover-lighting": ("lines.cover_in", *_WIRED, "lines.gfci_20a"),
    "cover-water": ("lines.cover_in", "site.frost_depth_in"),
    "cover-reclaimed": ("lines.cover_in", "site.frost_depth_in"),
    "cover-gas": ("lines.cover_in", "lines.owner", "lines.use", "reaches.place"),
    "cover-most": ("lines.cover_in",),
    "frost-known": ("site.frost_depth_in", "lines.kind"),
    "frost-below": ("site.frost_depth_in", "lines.cover_in", "lines.kind"),
    "building-raceway": ("reaches.place", "lines.kind", "lines.material"),
    "building-gas": ("reaches.place", "lines.kind", "lines.use"),
    "water-sewer-shelf": ("lines.kind", "lines.shelf", *_SECTION),
    "water-over-sewer": ("lines.kind", "lines.cover_in", "existing.kind", "existing.depth_in"),
    **{
        rule: ("surroundings.distance_ft", "surroundings.what", "surroundings.side", *_SECTION)
        for rule in map(clear_id, NOUNS)
    },
    **{
        rule: ("surroundings.distance_ft", "surroundings.what", "reaches.bottom_width_in", "reaches.soil")
        for rule in map(edge_id, NOUNS)
    },
    "footing-below": (
        "surroundings.footing_in",
        "surroundings.distance_ft",
        "surroundings.settled",
        "reaches.depth_in",
    ),
    "footing-spread": ("surroundings.footing_in", "surroundings.distance_ft", "reaches.depth_in"),
    "overhead-clear": (
        "surroundings.height_ft",
        "surroundings.voltage_v",
        "surroundings.distance_ft",
        "surroundings.settled",
        "equipment.boom_up_ft",
        "limits.swing_ft",
    ),
    "overhead-spoil": ("reaches.spoil", "surroundings.distance_ft", "surroundings.side"),
    "trenches-apart": ("alignments.path", "reaches.bottom_width_in", "reaches.depth_in", "reaches.soil"),
    "shared-box": (*_BOX, "lines.kind"),
    "width-lines": ("reaches.bottom_width_in", *_SECTION),
    "room-small": ("reaches.bottom_width_in", *_SECTION),
    "room-pipe": ("reaches.bottom_width_in", *_SECTION),
    "shelf-shoulder": ("lines.shelf", "reaches.bottom_width_in", *_SECTION),
    "room-shield": ("reaches.soil", "reaches.depth_in", "reaches.bottom_width_in"),
    "width-people": ("reaches.bottom_width_in", "reaches.depth_in"),
    "width-least": ("reaches.bottom_width_in",),
    "width-most": ("reaches.bottom_width_in",),
    "depth-lines": ("reaches.depth_in", "lines.cover_in", "lines.size_in", "backfill.bedding_in"),
    "depth-least": ("reaches.depth_in",),
    "depth-most": ("reaches.depth_in",),
    "bedding-least": ("backfill.bedding_in", "reaches.depth_in"),
    "bedding-most": ("reaches.depth_in", "lines.cover_in"),
    "bedding-rock": ("backfill.bedding_in", "reaches.soil", "reaches.earth", "lines.kind"),
    "shading-least": ("backfill.shading_in",),
    "protect-engineer": ("reaches.depth_in", "reaches.soil"),
    "protect-unknown-soil": ("reaches.soil", "reaches.depth_in"),
    "spoil-setback": ("reaches.spoil", "reaches.spoil_room_ft", "reaches.depth_in"),
    "spoil-haul": ("reaches.spoil",),
    "ribbon": ("lines.warning_ribbon", "lines.kind", "lines.use"),
    "ribbon-height": ("lines.warning_ribbon", "backfill.ribbon_below_grade_in", "lines.cover_in"),
    "ribbon-count": ("lines.warning_ribbon",),
    "ribbon-depths": ("lines.warning_ribbon", "backfill.ribbon_below_grade_in"),
    "tracer": ("lines.kind", "lines.material", "lines.tracer_wire_awg"),
    "tracer-size": ("lines.kind", "lines.material", "lines.tracer_wire_awg"),
    "line-order": ("lines.kind", "lines.offset_in"),
    "inspect-stages": ("inspections.stage", "inspections.authority", "inspections.kinds", "inspections.lines"),
    "keep-open-length": ("keep_open.from", "keep_open.to", "keep_open.structure", "structures.kind"),
    "hydrant-drain": ("structures.kind", "structures.gravel_pocket"),
    "bends-total": ("lines.bends", "structures.lines", "structures.station"),
    "no-factory-bends": ("lines.bends",),
    "sweep-radius": _BEND,
    "sweep-depth": (*_BEND, "lines.cover_in"),
    "pull-tension": ("lines.conductors", "lines.bends", "lines.route", "structures.lines", "structures.station"),
    "sidewall-pressure": ("lines.conductors", "lines.bends", "lines.route", "structures.lines"),
    "pull-length": ("lines.route", "lines.kind", "lines.size_in", "structures.lines", "structures.station"),
    "pull-string": ("lines.pull_string", "lines.conductors"),
    "pull-line-strength": ("lines.pull_line_lb", "lines.conductors"),
    "box-length": (*_BOX, "lines.size_in"),
    "box-gap": (*_BOX, "structures.conduit_gap_in"),
    "box-gap-fits": (*_BOX, "structures.conduit_gap_in"),
    "conduit-fill": ("lines.conductors", "lines.material", "lines.size_in"),
    "conduit-size-known": ("lines.conductors", "lines.material", "lines.size_in"),
    "conduit-material": ("lines.material", "reaches.place"),
    "thermal-movement": (
        "structures.exposed_run_ft",
        "structures.temperature_change_f",
        "structures.riser_material",
        "structures.slip_joint",
    ),
    "riser-movement": ("site.frost_depth_in", *_RISER, "structures.slip_joint"),
    "riser-material": (*_RISER, "structures.exposed"),
    "riser-height": (*_RISER, "structures.exposed", "structures.riser_height_ft"),
    "riser-wrap": (*_RISER, "structures.wrap_mil"),
    "test-hold-main": _TEST,
    "test-hold-water": _TEST,
    "test-hold-sewer": _TEST,
    "test-hold-gas": _TEST,
    "size-least": ("lines.size_in", "lines.amperes", "lines.use"),
    "size-most": ("lines.size_in", "lines.amperes", "lines.use"),
    "count-least": ("lines.count",),
    "spare-least": ("lines.use", "lines.count", "lines.kind"),
    "pipe-material": ("lines.material",),
    "shell-must": ("lines.encased",),
    "shell-thickness": ("lines.encased",),
    "test-must": ("lines.test",),
    "test-psi": ("lines.test",),
    "test-psi-most": ("lines.test",),
    "test-hold": ("lines.test",),
    "elbow-material": ("lines.bends", "lines.material"),
    "radius-times": _BEND,
    "bend-degrees": ("lines.bends",),
    "bends-number": ("lines.bends", "structures.lines", "structures.station"),
    "bend-straight": ("lines.bends", "lines.route"),
    "marker-at-bends": ("lines.bends", "structures.kind", "structures.lines", "structures.station"),
    "marker-every": ("structures.kind", "structures.lines", "structures.station", "lines.route"),
    "structure-at-ends": ("structures.kind", "structures.lines", "structures.station", "lines.route"),
    "never-beside": ("lines.kind", "lines.route"),
    "never-over": ("lines.offset_in", "lines.kind", "lines.size_in"),
    "lies-above": ("lines.cover_in", "lines.kind", "lines.size_in"),
    "fill-material": ("backfill.zones",),
    "fill-stone": ("backfill.zones",),
    "fill-lift": ("backfill.zones", "backfill.lift_in"),
    "fill-density": ("backfill.zones",),
    "fill-strength": ("backfill.zones",),
    "fill-strength-most": ("backfill.zones",),
    "ribbon-height-most": ("lines.warning_ribbon", "backfill.ribbon_below_grade_in", "lines.cover_in"),
    "ribbon-heights": ("lines.warning_ribbon", "backfill.ribbon_below_grade_in", "lines.cover_in"),
    "ribbon-below-least": ("lines.warning_ribbon", "backfill.ribbon_below_grade_in"),
    "ribbon-below-most": ("lines.warning_ribbon", "backfill.ribbon_below_grade_in"),
    "before-dig": ("permits.kind", "permits.by", "permits.alignments", "permits.step", "own_work.gate"),
    "by-hand": ("lines.kind", "reaches.place"),
    "locate-ticket": ("locate_tickets.called", "locate_tickets.alignments", "alignments.locate_not_needed"),
}


def needs_of(rule: LayoutRule) -> tuple[str, ...]:
    """Return the fields that decide what a rule finds, such as `lines.cover_in`; the first is the one it is about."""
    return _BY_RULE.get(rule.id) or _BY_FAMILY.get(rule.family, ())
