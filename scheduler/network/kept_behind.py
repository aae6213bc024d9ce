"""Work that follows other work along a stretch at a distance: bedding and laying behind the dig."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor


@dataclass(frozen=True, slots=True)
class KeptBehind:
    """Work that follows other work along a stretch, and keeps at least so far behind it.

    Both go from one end of the stretch to the other in the same direction, each at an even pace while its hours are
    open. As long as `before` is not finished, `after` has begun nowhere less than `apart_ft` behind the place that
    `before` has reached; once it is finished, `after` goes on freely.
    """

    id: str
    before: str
    after: str
    length_ft: float
    """Of the stretch."""
    apart_ft: float
    before_from_ft: float = 0.0
    """How far the stretch was done already when the work of `before` begins: more than nothing after a break."""
    after_from_ft: float = 0.0
    """The same of `after`."""
    because: str = ""
    source: str = ""

    def lags(self, before_work: int, after_work: int) -> tuple[int, int]:
        """Return the ticks by which `after` starts after the start of `before`, and finishes after its finish.

        The first are counted in the hours of `before`, within which those of `after` lie; they are as many as keep the
        distance even where `after` works without a break. The second are counted in the hours of `after`, and follow
        from the first; they tell early what the first imply. Both paces are even: `before` covers the rest of the
        stretch in `before_work` ticks, `after` in `after_work`.
        """
        rest_before, rest_after = self.length_ft - self.before_from_ft, self.length_ft - self.after_from_ft
        ahead = max(0.0, min(self.length_ft, self.after_from_ft + self.apart_ft) - self.before_from_ft)
        free_from = max(self.after_from_ft, self.length_ft - self.apart_ft)
        share = (free_from - self.after_from_ft) / rest_after if rest_after > 0 else 0.0
        at_start = before_work * ahead / rest_before if rest_before > 0 else before_work
        not_caught_up = before_work - after_work * share
        return (
            ceil(round(max(0.0, at_start, not_caught_up), 6)),
            max(0, floor(round(after_work * (1.0 - share), 6))),
        )
