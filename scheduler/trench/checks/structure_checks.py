"""Checks of what stands at stations: risers, boxes, hydrants."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.ground import Line, Material, Structure
from scheduler.trench.checks.view import Spot, View
from scheduler.trench.conduit import pvc_movement_in
from scheduler.trench.pipes import CONDUITS, PLASTIC_CONDUITS, is_wired
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value
from scheduler.trench.rules.conduit_rules import RISER_MATERIALS
from scheduler.units import format_amount, format_feet, format_fine, format_inches

_BOXES = ("pull_box", "handhole")


def _at(structure: Structure, asked: Value, text: str, *, found: str, required: str, gap: float = 0.0) -> Spot:
    return Spot(
        rule=asked.rule,
        subject=(structure.id,),
        alignment=structure.alignment,
        from_ft=structure.station,
        to_ft=structure.station,
        text=f"{structure.name}: {text}",
        found=found,
        required=required,
        source=asked.source,
        gap=gap,
    )


def _wired(view: View, structure: Structure) -> list[Line]:
    return [line for line in view.lines_of(structure) if is_wired(line)]


def _risers(view: View) -> Iterator[tuple[Structure, list[Line], Material | None]]:
    """Yield every riser with its lines and the material it is of above grade."""
    for structure in view.site.structures:
        lines = _wired(view, structure)
        if structure.kind == "riser" and lines:
            yield structure, lines, structure.riser_material or lines[0].material


def risers(view: View) -> Iterator[Spot]:
    """Risers withstand knocks, reach high enough, and are wrapped where galvanised."""
    for structure, lines, material in _risers(view):
        reach = view.reach_at(structure.alignment, structure.station)
        allowed = view.book.find("riser-material", reach=reach, lines=lines)
        names: tuple[str, ...] = allowed.items if allowed else RISER_MATERIALS
        needed = structure.exposed or (allowed is not None)
        if needed and material not in names:
            asked = allowed or Value(rule="riser-material", value=1.0, source=RULES["riser-material"].cited)
            yield _at(
                structure, asked, "the riser is of a material not allowed where it is exposed.",
                found=f"{material}", required=" or ".join(names),
            )  # fmt: skip
        direct = any(line.material not in CONDUITS for line in lines)
        height = view.book.get("riser-height", reach=reach, lines=lines)
        if (
            (structure.exposed or direct or height.local)
            and structure.riser_height_ft is not None
            and structure.riser_height_ft < height.value - 1e-6
        ):
            yield _at(
                structure, height, "the riser is not protected high enough.",
                found=format_feet(structure.riser_height_ft), required=f"at least {height.feet()}",
                gap=height.value - structure.riser_height_ft,
            )  # fmt: skip
        wrap = view.book.get("riser-wrap", reach=reach, lines=lines)
        if material in ("rmc", "imc") and (structure.wrap_mil or 0.0) < wrap.value - 1e-6:
            yield _at(
                structure, wrap, "galvanised conduit is not wrapped below grade.",
                found=format_amount(structure.wrap_mil or 0, "mil"),
                required=f"at least {format_amount(wrap.value, 'mil')} of tape",
            )  # fmt: skip


def movement(view: View) -> Iterator[Spot]:
    """Conduit that heat, frost or settlement moves can slip."""
    for structure in view.site.structures:
        lines = _wired(view, structure)
        material = structure.riser_material or (lines[0].material if lines else None)
        if structure.slip_joint or material is None:
            continue
        reach = view.reach_at(structure.alignment, structure.station)
        limit = view.book.get("thermal-movement", reach=reach, lines=lines)
        moves = pvc_movement_in(
            length_ft=structure.exposed_run_ft or 0.0, change_f=structure.temperature_change_f or 0.0
        )
        if material in PLASTIC_CONDUITS and moves >= limit.value:
            yield _at(
                structure, limit, "the exposed conduit moves with heat and has no expansion fitting.",
                found=f"{format_fine(moves)} of movement", required=f"a fitting from {limit.inches()}",
                gap=moves - limit.value,
            )  # fmt: skip
        elif structure.kind == "riser" and (view.book.frost_depth_in or 0.0) > 0.0:
            asked = view.book.asks("riser-movement", reach=reach, lines=lines, built_in=True)
            if asked is not None:
                yield _at(
                    structure, asked, "nothing lets the riser slip when the ground heaves or settles.",
                    found="no slip joint", required="a slip joint or other slack",
                )  # fmt: skip


def boxes(view: View) -> Iterator[Spot]:
    """Pull boxes are long enough, and are not shared by power and communications."""
    for structure in view.site.structures:
        if structure.kind not in _BOXES:
            continue
        lines = _wired(view, structure)
        reach = view.reach_at(structure.alignment, structure.station)
        kinds = {line.kind for line in lines}
        shared = view.book.asks("shared-box", reach=reach, lines=lines, built_in=True)
        if shared is not None and "communications" in kinds and kinds & {"power", "lighting"}:
            yield _at(
                structure, shared, "power and communications share the box.",
                found="one box", required="a box each, or a barrier",
            )  # fmt: skip
        if structure.size_in is not None and lines:
            yield from _box_lengths(view, structure, lines, longest_in=max(structure.size_in))


def _box_lengths(view: View, structure: Structure, lines: list[Line], *, longest_in: float) -> Iterator[Spot]:
    reach = view.reach_at(structure.alignment, structure.station)
    power = [line.size_in for line in lines if line.kind in ("power", "lighting") and line.material in CONDUITS]
    times = view.book.get("box-length", reach=reach, lines=lines)
    if power and longest_in < times.value * max(power) - 1e-6:
        yield _at(
            structure, times, "the box is too short for a straight pull.",
            found=f"{format_inches(longest_in)} long", required=f"at least {format_inches(times.value * max(power))}",
        )  # fmt: skip
    gap_in = structure.conduit_gap_in
    if gap_in is None:
        return
    if gap_in > longest_in + 1e-6:
        fits = Value(rule="box-gap-fits", value=longest_in, source=RULES["box-gap-fits"].cited)
        yield _at(
            structure, fits, "the conduit ends are farther apart than the box is long.",
            found=format_inches(gap_in), required=f"at most {format_inches(longest_in)}",
        )  # fmt: skip
    least = view.book.find("box-gap", reach=reach, lines=lines)
    if least is not None and gap_in < least.value - 1e-6:
        yield _at(
            structure, least, "the conduit ends are too near each other.",
            found=format_inches(gap_in), required=f"at least {least.inches()}",
        )  # fmt: skip


def hydrants(view: View) -> Iterator[Spot]:
    """A hydrant that drains into the ground stands in gravel."""
    for structure in (s for s in view.site.structures if s.kind == "hydrant"):
        lines = view.lines_of(structure)
        reach = view.reach_at(structure.alignment, structure.station)
        asked = view.book.asks("hydrant-drain", reach=reach, lines=lines, built_in=True)
        if not structure.gravel_pocket and asked is not None:
            yield _at(
                structure, asked, "the hydrant has nothing to drain into.",
                found="no gravel pocket", required="a gravel pocket",
            )  # fmt: skip
