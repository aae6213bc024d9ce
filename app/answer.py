"""A plan with everything pages ask about it, each worked out once."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from app.figures.work import Picture
from scheduler.explain.chain import Chain, chains
from scheduler.explain.quality import Check, assess
from scheduler.explain.story import story
from scheduler.explain.upsets import next_upsets
from scheduler.plan import Plan
from scheduler.planning import Case, Planned
from scheduler.trench.model import Section
from scheduler.trench.section import sections

MOST_CHAINS = 6


@dataclass(frozen=True)
class Answer:
    """What a solve came to; shared by every page and session that asked the same."""

    planned: Planned
    _stories: dict[str, list[str]] = field(default_factory=dict, repr=False)
    _upsets: dict[date, list[tuple[str, int | None]]] = field(default_factory=dict, repr=False)

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
    def chains(self) -> list[Chain]:
        """The chains that set the finish, the tightest first; none without dates."""
        schedule = self.planned.schedule
        return chains(self.case.network, schedule, MOST_CHAINS) if schedule else []

    @cached_property
    def checks(self) -> list[Check]:
        """The plan itself measured against the published schedule-assessment checks; none without dates."""
        schedule = self.planned.schedule
        return assess(self.case.network, schedule) if schedule else []

    @cached_property
    def sections(self) -> dict[str, Section]:
        """The section of every reach."""
        return dict(sections(self.case.site))

    @cached_property
    def people(self) -> dict[str, str]:
        """Names of people by id."""
        return {p.id: p.name for p in self.case.site.people}

    def story(self, activity: str) -> list[str]:
        """Return why an activity is when it is, back to the start, a paragraph a step."""
        schedule = self.planned.schedule
        if schedule is None:
            return []
        if activity not in self._stories:
            self._stories[activity] = story(self.case.network, schedule, activity)
        return self._stories[activity]

    def upsets(self, on: date) -> list[tuple[str, int | None]]:
        """Return what may go wrong next, seen from a day, with the finish it would lead to [tick].

        The next work day lost, then each of the next visits missed; None where known hours run out.
        """
        schedule = self.planned.schedule
        if schedule is None:
            return []
        if on not in self._upsets:
            self._upsets[on] = list(next_upsets(self.case.network, schedule, on))
        return self._upsets[on]
