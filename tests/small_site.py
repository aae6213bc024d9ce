"""One small, valid site for tests; every name and number in it is invented."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

from scheduler.errors import BadInput
from scheduler.findings import Finding
from scheduler.site.files import read_site

FILE = "small.yaml"
"""The name under which tests read it."""
SMALL_SITE_DATES = Path(__file__).with_name("small_site_dates.csv")
"""One plan of it."""

SMALL_SITE: str = dedent(
    """\
    # Invented test data: no real place, firm or person.
    format: 1
    site:
      name: Garden row
      job_id: practice-garden-row
      time_zone: America/Denver
      first_day: 2026-06-08
      target_finish: 2026-07-10
      horizon_days: 90
      country: US
      state: CO
      frost_depth_in: 30
      overhead_per_day: 400
      exposure_per_ft_night: 0.5
      general_trade: gc
      invented: true

    people:
      - {id: boss, name: R. Sample, role: general_contractor, of: Sample Ditching}
      - {id: eye, name: V. Sample, role: inspector, of: City of Sample}
      - {id: wire, name: U. Sample, role: utility, of: Sample Power}

    calendars:
      - id: crew
        name: crew hours
        weekly: [mon-fri 07:00-15:30]
      - id: city
        name: city inspection mornings
        weekly: ["mon,wed,fri 08:00-11:00"]
      - id: utility
        name: utility crew hours
        weekly: [mon-thu 08:00-16:00]

    alignments:
      - {id: M, name: Main run, length_ft: 160}
      - id: B
        name: Shed branch
        length_ft: 40
        leaves: {alignment: M, station: 1+00}

    reaches:   # from the pole to the house, then the shed
      - {id: R1, alignment: M, from: 0+00, to: 1+00, bottom_width_in: 36, soil: B}
      - {id: R2, alignment: M, from: 1+00, to: 1+60, bottom_width_in: 36, soil: B}
      - {id: R3, alignment: B, from: 0+00, to: 0+40, bottom_width_in: 36, soil: B}

    lines:
      - id: P1
        name: Service conduit
        kind: power
        owner: customer
        trade: elec
        material: pvc40
        size_in: 2
        use: service
        route:
          - {alignment: M, from: 0+00, to: 1+60}
        offset_in: -12
        cover_in: 38
        voltage_v: 240
      - id: W1
        name: Water to shed
        kind: water
        trade: gc
        material: pe
        size_in: 1
        use: lateral
        route:
          - {alignment: M, from: 0+00, to: 1+00}
          - {alignment: B, from: 0+00, to: 0+40}
        offset_in: 12
        cover_in: 38
        test: {kind: pressure, set_up_hours: 0.5, hold_hours: 0.25, over: reach}
      - id: C1
        name: Phone and data
        kind: communications
        trade: elec
        material: pvc40
        size_in: 1
        route:
          - {alignment: M, from: 0+00, to: 1+60}
        offset_in: 8
        cover_in: 20
      - id: L1
        name: Shed lighting
        kind: lighting
        trade: elec
        material: pvc40
        size_in: 1
        use: branch
        route:
          - {alignment: M, from: 1+00, to: 1+60}
          - {alignment: B, from: 0+00, to: 0+40}
        offset_in: -10
        cover_in: 20
        voltage_v: 120

    structures:
      - {id: S1, kind: pole, name: Utility pole, alignment: M, station: 0+00, lines: [P1, C1]}
      - {id: S2, kind: panel, name: House panel, alignment: M, station: 1+60, lines: [P1]}

    keep_open:
      - id: K1
        alignment: M
        from: 0+00
        to: 0+06   # the loose stretch by the pole
        until: U1
        because: The utility needs the conduit end loose until it has tied in.
        released_by: wire
        structure: S1

    trades:
      - id: gc
        name: Sample Ditching
        own: true
        crews: 1
        calendar: crew
        day_rate: 900
      - id: elec
        name: Sample Electric
        calendar: crew
        day_rate: 800
        mobilisation_cost: 250
        notice_days: 2
        lays:
          - {kind: power, feet_per_hour: 40}

    equipment:
      - {id: digger, name: Excavator, kind: excavator, calendar: crew, trade: gc, bucket_cy: 0.25, day_rate: 350}

    locate_tickets:
      - id: T1
        number: INVENTED-1
        called: 2026-06-08 08:00
        notice_days: 2
        life_days: 28

    inspections:
      - id: I1
        name: Conduit and pipe before cover
        authority: City of Sample
        stage: lines_laid
        calendar: city
        notice_days: 1
        fee: 120
        reinspection_fee: 90
        released_by: eye

    outside_work:
      - id: U1
        name: Tie-in at the pole
        by: Sample Power
        kind: tie_in
        calendar: utility
        notice_days: 3
        hours: 3
        lines: [P1]
        lines_state: inspected
        needs_inspections: [I1]
        at: {alignment: M, from: 0+00, to: 0+06}

    bookings:
      - {id: BK1, of: U1, start: 2026-06-30 09:00}

    limits:
      open_trench_ft: 160
      rain_days: [2026-06-11]
    """
)


def damaged(*changes: tuple[str, str]) -> str:
    """Return the small site with the first occurrence of each text replaced."""
    text = SMALL_SITE
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def line_of(text: str, marks: str) -> int:
    """Return the 1-based line of a mark, or of the last of several: `id: R2 > to:`."""
    at = 0
    for mark in marks.split(" > "):
        at = text.index(mark, at)
    return text.count("\n", 0, at) + 1


def faults_in(text: str) -> tuple[Finding, ...]:
    """Return why a text is refused as a site file; empty when it reads."""
    try:
        read_site(text, file=FILE)
    except BadInput as refusal:
        return refusal.findings
    return ()
