"""From a site to the network of its work: every activity, link and rule that binds a date."""

from __future__ import annotations

from collections import defaultdict

from scheduler.network.bookings import build_bookings
from scheduler.network.contingency import with_margin_wanted
from scheduler.network.designs import build_lying
from scheduler.network.hours import Hours
from scheduler.network.inspections import build_inspections
from scheduler.network.junction_work import build_junctions
from scheduler.network.kept_shut import build_kept_shut
from scheduler.network.lay_behind import build_lay_behind
from scheduler.network.learning_work import build_learning
from scheduler.network.limits import build_openings, build_tickets
from scheduler.network.lines_work import build_lines
from scheduler.network.members import build_members
from scheduler.network.model import Network, Target
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.outside import build_outside
from scheduler.network.own_steps import build_own
from scheduler.network.pieces import Ground
from scheduler.network.prices import Rates
from scheduler.network.reach_build import build_reach
from scheduler.network.resources import build_mobilisations, build_resources, build_spaces
from scheduler.network.safe_order import SafeOrder, build_safe_order
from scheduler.network.season_work import build_seasons
from scheduler.network.setting import Made, Setting
from scheduler.network.site_steps import build_machines, build_reach_steps
from scheduler.network.ways import build_ways
from scheduler.network.wet_lines import build_line_steps
from scheduler.site.calendars import build_calendars, clock_of, data_date, horizon
from scheduler.site.ground import ExistingLine
from scheduler.site.site_record import Site
from scheduler.spoken import short_day
from scheduler.trench.section import sections


def setting_of(site: Site) -> Setting:
    """Return a site with its clock, calendars, pieces and sections worked out."""
    clock = clock_of(site)
    last = horizon(site, clock)
    hours = Hours(clock, last, build_calendars(site, clock), site.limits.rain_days)
    return Setting(site, clock, data_date(site, clock), last, hours, Ground(site), sections(site))


def derive(site: Site) -> Network:
    """Return the network of a site, the same for the same site.

    Raises BadInput when the site gives a duration for an activity that it does not have, or a margin for no work.
    """
    setting = setting_of(site)
    draft = NetworkDraft(
        setting.hours.named, setting.clock.tick_minutes, site.durations, site.limits.least_start_minutes
    )
    made = Made()
    marked: dict[str, list[ExistingLine]] = defaultdict(list)
    for line in site.existing:
        reach = setting.ground.reach_at(line.alignment, line.station)
        if reach:
            marked[reach.id].append(line)
    for reach in site.reaches:
        build_reach(setting, draft, made, reach, marked[reach.id])
    build_lines(setting, draft, made)
    build_inspections(setting, draft, made)
    if site.site_work is not None:
        build_reach_steps(setting, draft, made)
        build_line_steps(setting, draft, made)
    build_outside(setting, draft, made)
    build_own(setting, draft, made)
    order = SafeOrder(draft)
    build_junctions(setting, draft, made, order)
    build_safe_order(setting, draft, made, order)
    build_learning(setting, draft)
    build_openings(setting, draft, made)
    build_seasons(setting, draft, made)
    build_kept_shut(setting, draft, made)
    build_ways(setting, draft, made)
    build_tickets(setting, draft, made)
    build_machines(setting, draft)
    build_members(setting, draft)
    build_resources(setting, draft)
    build_lay_behind(setting, draft, made)
    build_spaces(setting, draft)
    build_mobilisations(setting, draft)
    build_bookings(setting, draft, made)
    draft.check_overrides()
    return with_margin_wanted(_network(setting, draft), site.margin)


def _network(setting: Setting, draft: NetworkDraft) -> Network:
    job = setting.site.site
    used = {a.calendar for a in draft.activities.values()} | {v.calendar for v in draft.visit_rules}
    used |= {shut.times for shut in draft.kept_shut}
    target, may_be_missed = None, bool(job.damages_per_day)
    if (last := job.target_finish) is not None and not may_be_missed:
        target = Target(
            "target",
            setting.hours.end_of_day(last),
            because=f"The job is to be finished by the end of {short_day(last, year=True)}.",
            source=f"{SITE_FILE}: site, target_finish",
        )
    return Network(
        name=job.name,
        clock=setting.clock,
        data_date=setting.data_date,
        horizon=setting.horizon,
        calendars={k: c for k, c in setting.hours.named.items() if k in used},
        activities=tuple(draft.activities.values()),
        links=tuple(draft.links.values()),
        dates=tuple(draft.dates),
        resources=tuple(draft.resources),
        spaces=tuple(draft.spaces),
        openings=tuple(draft.openings),
        open_limits=tuple(draft.open_limits),
        kept_shut=tuple(draft.kept_shut),
        kept_behind=tuple(draft.kept_behind),
        ways=tuple(draft.ways),
        rentals=tuple(draft.rentals),
        unpaved=tuple(draft.unpaved),
        tickets=tuple(draft.tickets),
        visit_rules=tuple(draft.visit_rules),
        holds=tuple(draft.holds),
        bookings=tuple(draft.bookings),
        mobilisations=tuple(draft.mobilisations),
        target=target,
        rates=Rates(
            job.overhead_per_day,
            job.exposure_per_ft_night,
            job.unpaved_per_ft_night,
            job.damages_per_day or 0.0,
            setting.hours.end_of_day(job.target_finish) if job.target_finish is not None and may_be_missed else None,
        ),
        lying=build_lying(setting),
        notes=tuple(draft.notes),
    )
