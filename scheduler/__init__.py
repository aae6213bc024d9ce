"""Joint-trench scheduler: from a described site to a proved, audited plan.

The one door for programs: `load` a site, `check` its layout (and see what that `looked_at`), `plan` it (or ask for
`choices`), `audit` dates, `explain` a plan, keep a `journal`, ask how the site stands (`today`), `replan` after a
delay, `export` papers.
Whatever is wrong with what is given is raised as `BadInput`, all of it at once. Times that people
read are aware or local moments; inside they are ticks of 15 minutes from local midnight of the first
day. Lengths are feet, sizes inches, money whatever the site file counts in.

More types stand in the front of each part: `scheduler.plan`, `scheduler.site`, `scheduler.trench`,
`scheduler.network`, `scheduler.ledger`, `scheduler.explain`, `scheduler.export`, `scheduler.replan`,
`scheduler.situation`.
"""

# Some verbs have the name of the package or module that does the work. Importing these here first, all of them,
# before the verbs are bound, is what keeps `scheduler.plan` and `from scheduler import audit` functions: a package
# binds its parts' names once, when they are first imported. tests/unit/test_door.py holds it.
from scheduler.accepting import accept, accepted_plan, as_accepted, as_planned, put_in_force
from scheduler.assessment.checks import Check
from scheduler.case import Case, bundled_sites, check, load, looked_at
from scheduler.choice_search import ChoiceSearch, choices
from scheduler.choosing import ChoiceAim, PlanChoice, money_by_line, open_trench_known, side_by_side
from scheduler.errors import BadInput
from scheduler.explanation import Explanation
from scheduler.findings import Finding, Severity
from scheduler.ledger.store import Entry, Journal
from scheduler.network.model import Network
from scheduler.papers import calendar_at_address, export
from scheduler.plan import Plan
from scheduler.planning import (
    Planned,
    add_curve,
    audit,
    dates_of,
    explain,
    journal,
    left_undone,
    plan,
    replan,
    today,
    with_covered,
)
from scheduler.replan.replan_records import Alternative, Replanning
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site
from scheduler.situation.situation import Situation
from scheduler.solve.outcome import Options, Progress
from scheduler.version import __version__

__all__ = [
    "Alternative",
    "BadInput",
    "Case",
    "Check",
    "ChoiceAim",
    "ChoiceSearch",
    "Entry",
    "Explanation",
    "Finding",
    "Journal",
    "Network",
    "Options",
    "Plan",
    "PlanChoice",
    "Planned",
    "Progress",
    "Replanning",
    "Schedule",
    "Severity",
    "Site",
    "Situation",
    "__version__",
    "accept",
    "accepted_plan",
    "add_curve",
    "as_accepted",
    "as_planned",
    "audit",
    "bundled_sites",
    "calendar_at_address",
    "check",
    "choices",
    "dates_of",
    "explain",
    "export",
    "journal",
    "left_undone",
    "load",
    "looked_at",
    "money_by_line",
    "open_trench_known",
    "plan",
    "put_in_force",
    "replan",
    "side_by_side",
    "today",
    "with_covered",
]
