"""How much trench stands open, and the locate tickets that allow digging."""

from __future__ import annotations

from datetime import timedelta

from scheduler.network.model import Opening, OpenLimit, Renewal, Ticket
from scheduler.network.network_draft import SITE_FILE, NetworkDraft, Place
from scheduler.network.setting import Made, Setting
from scheduler.site.calendars import working_days_after, working_days_before
from scheduler.site.locates import covers
from scheduler.site.people import LocateTicket
from scheduler.units import counted_length, counted_unit, format_feet


def build_openings(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the openings of all pieces, and the limits on them."""
    limits = setting.site.limits
    whole: list[str] = []
    for reach in setting.site.reaches:
        work = made.reaches[reach.id]
        dig = work.digs[-1]
        for piece in work.pieces:
            draft.openings.append(Opening(piece.piece.id, reach.id, piece.piece.length_ft, dig, piece.covered))
        if len(work.pieces) == 1:
            whole.append(work.pieces[0].piece.id)
        elif limits.reaches_open:
            whole.append(_whole_reach(setting, draft, reach.id, dig, [p.covered for p in work.pieces]))
    if limits.open_trench_ft:
        draft.open_limits.append(
            OpenLimit(
                "open-trench",
                counted_length(limits.open_trench_ft, up=False),
                tuple(amount for reach in setting.site.reaches for amount in _feet(made, reach.id)),
                counted_unit(),
                because=f"At most {format_feet(limits.open_trench_ft)} of trench may stand open.",
                source=f"{SITE_FILE}: limits, open_trench_ft",
            )
        )
    if limits.reaches_open:
        draft.open_limits.append(
            OpenLimit(
                "reaches-open",
                limits.reaches_open,
                tuple((id_, 1) for id_ in whole),
                "reaches",
                because=f"At most {limits.reaches_open} reaches may stand open.",
                source=f"{SITE_FILE}: limits, reaches_open",
            )
        )


def _feet(made: Made, reach: str) -> list[tuple[str, int]]:
    """Return the counted length of each piece of a reach; they add up to the length of all, rounded up."""
    out = []
    counted, total = 0, 0.0
    for work in made.reaches[reach].pieces:
        total += work.piece.length_ft
        upto = counted_length(total, up=True)
        out.append((work.piece.id, upto - counted))
        counted = upto
    return out


def _whole_reach(setting: Setting, draft: NetworkDraft, reach_id: str, dig: str, covered: list[str]) -> str:
    """Mark when all pieces of a split reach are covered, to count it as open once."""
    reach = setting.ground.reaches[reach_id]
    done = draft.milestone(
        f"{reach_id}/covered",
        f"All covered, {setting.where(reach)}",
        draft.activities[covered[-1]].calendar,
        place=Place(reach_id, reach.alignment, reach.from_, reach.to),
        because="A reach counts as open until its last piece is covered.",
        source=f"{SITE_FILE}: limits, reaches_open",
    )
    for before in covered:
        draft.link(before, done, because="The reach is covered when all its pieces are.")
    draft.openings.append(Opening(f"{reach_id}:all", reach_id, 0.0, dig, done))
    return f"{reach_id}:all"


def build_tickets(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Let each dig wait for every locate ticket over its ground, and end before the first of them expires."""
    for spec in setting.site.locate_tickets:
        over = [reach.id for reach in setting.site.reaches if covers(spec, reach.alignment)]
        if digs := tuple(dig for reach in over for dig in made.reaches[reach].digs):
            draft.tickets.append(_ticket(setting, spec, digs))


def _ticket(setting: Setting, spec: LocateTicket, digs: tuple[str, ...]) -> Ticket:
    clock, site = setting.clock, setting.site
    called = clock.tick(spec.called)
    if spec.clear is not None:
        clear = clock.tick(spec.clear, up=True)
        because = "All owners have answered by then; digging is good until the ticket expires."
    else:
        clear = working_days_after(site, clock, tick=called, days=spec.notice_days)
        because = (
            f"Owners have {spec.notice_days} full working days after the call to mark their lines; "
            "digging is good until the ticket expires."
        )

    def end_of_life(tick: int) -> int:
        return clock.midnight(clock.when(tick).date() + timedelta(days=spec.life_days + 1))

    expiry = end_of_life(called)
    renewals: list[Renewal] = []
    last = expiry
    for n in range(1, spec.renewals + 1):
        if last >= setting.horizon:
            break
        call_by = working_days_before(site, clock, tick=last - 1, days=spec.renew_before_days)
        renewed = end_of_life(call_by - 1)
        if renewed <= last:
            break
        renewals.append(Renewal(f"{spec.id}/renewal-{n}", call_by, renewed))
        last = renewed
    return Ticket(
        id=spec.id,
        name=f"Locate ticket {spec.number or spec.id}",
        clear=clear,
        expiry=expiry,
        digs=digs,
        renewals=tuple(renewals),
        renewal_cost=spec.renewal_cost,
        because=because,
        source=f"{SITE_FILE}: locate_tickets; 29 CFR 1926.651(b)",
    )
