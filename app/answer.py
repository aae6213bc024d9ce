"""A plan with everything pages ask about it, each worked out once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import scheduler
from app.figures.work import Picture
from scheduler import Case, Check, Explanation, Planned
from scheduler.explain import Chain
from scheduler.plan import Plan
from scheduler.trench import Section, sections


@dataclass(frozen=True)
class Answer:
    """What a solve came to; shared by every page and session that asked the same."""

    planned: Planned

    @property
    def plan(self) -> Plan:
        """The plan itself."""
        return self.planned.plan

    @property
    def case(self) -> Case:
        """The site, its network and its layout check."""
        return self.planned.case

    @cached_property
    def picture(self) -> Picture:
        """What figures need of the plan."""
        return Picture(self.plan, self.case.network, self.case.site)

    @cached_property
    def explained(self) -> Explanation:
        """What can be asked about the plan; each question is answered once."""
        return scheduler.explain(self.planned)

    @property
    def chains(self) -> Sequence[Chain]:
        """The chains that set the finish, the tightest first; none without dates."""
        return self.explained.chains

    @property
    def checks(self) -> Sequence[Check]:
        """The plan itself measured against the published schedule-assessment checks; none without dates."""
        return self.explained.checks

    @cached_property
    def sections(self) -> dict[str, Section]:
        """The section of every reach."""
        return dict(sections(self.case.site))

    @cached_property
    def people(self) -> dict[str, str]:
        """Names of people by id."""
        return {p.id: p.name for p in self.case.site.people}

    def story(self, activity: str) -> Sequence[str]:
        """Return why an activity is when it is, back to the start, a paragraph a step."""
        return self.explained.story(activity)

    def upsets(self, on: date) -> Sequence[tuple[str, int | None]]:
        """Return what may go wrong next, seen from a day, with the finish it would lead to [tick]."""
        return self.explained.upsets(on)
