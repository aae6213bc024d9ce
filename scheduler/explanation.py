"""All that can be asked about one plan, each answer worked out when it is first asked for."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property

from scheduler.assessment.checks import Check, assess
from scheduler.explain.chain import Chain, chains
from scheduler.explain.exact import Latest, latest_finish
from scheduler.explain.story import story, why_not_earlier
from scheduler.explain.upsets import next_upsets
from scheduler.findings import Finding
from scheduler.network.model import Network
from scheduler.schedule import Schedule

MOST_CHAINS = 6


@dataclass(frozen=True, eq=False)
class Explanation:
    """What can be asked about a plan. Ticks are those of `network.clock`; `when` gives their moment.

    Of a plan without dates (`schedule` None) every answer is empty.
    """

    network: Network
    schedule: Schedule | None
    _stories: dict[str, list[str]] = field(default_factory=dict, repr=False)
    _upsets: dict[date, list[tuple[str, int | None]]] = field(default_factory=dict, repr=False)

    def when(self, tick: int) -> datetime:
        """Return the moment of a tick, in the site's time zone."""
        return self.network.clock.when(tick)

    @cached_property
    def chains(self) -> Sequence[Chain]:
        """The chains that set the finish: the one to the finish first, then the tightest."""
        return chains(self.network, self.schedule, MOST_CHAINS) if self.schedule else []

    @cached_property
    def checks(self) -> Sequence[Check]:
        """The plan itself measured against the published schedule-assessment checks."""
        return assess(self.network, self.schedule) if self.schedule else []

    def story(self, activity: str) -> Sequence[str]:
        """Return why an activity (its id) is when it is, back to the start, a paragraph a step.

        Raises KeyError for an activity that the plan has not.
        """
        if self.schedule is None:
            return []
        if activity not in self._stories:
            self._stories[activity] = story(self.network, self.schedule, activity)
        return self._stories[activity]

    def upsets(self, on: date) -> Sequence[tuple[str, int | None]]:
        """Return what may go wrong next, seen from a day, with the finish it would lead to [tick].

        The next work day lost, then each of the next visits missed; None where known hours run out.
        """
        if self.schedule is None:
            return []
        if on not in self._upsets:
            self._upsets[on] = list(next_upsets(self.network, self.schedule, on))
        return self._upsets[on]

    def latest_finish(self, activity: str, *, stop: threading.Event | None = None) -> Latest | None:
        """Return how late an activity may finish, the finish of the plan kept and all else free to move.

        This searches, for seconds; setting `stop` ends it soon, with the latest found by then.
        """
        return latest_finish(self.network, self.schedule, activity, stop=stop) if self.schedule else None

    def why_not(self, activity: str, start: datetime) -> Finding | None:
        """Return the first rule that would break if an activity started at another moment and nothing else moved.

        None when it could. `start` is local to the site.
        """
        if self.schedule is None:
            return None
        return why_not_earlier(self.network, self.schedule, activity, self.network.clock.tick(start))
