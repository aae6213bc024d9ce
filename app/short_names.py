"""Names of work and places in little room: without what everybody on the site knows."""

from __future__ import annotations

import re
from collections import Counter

from scheduler.site import Site
from scheduler.situation import WorkStands

_STATIONS = re.compile(r"(\d\+[\d.]+) to (\d+\+[\d.]+)")
_LOOKED_AT = re.compile(r"^([^:]+):.*(, [^,]+)$")


def place_in_short(site: Site, text: str) -> str:
    """Return words about a place, without the name of the trench that all others leave, if that is one.

    The others are named in short.
    """
    first = [a.name for a in site.alignments if a.leaves is None]
    text = re.sub(rf"(^|, ){re.escape(first[0])} (?=\d)", r"\1", text) if len(first) == 1 else text
    named = trenches_in_short(site)
    for alignment in site.alignments:
        text = re.sub(rf"{re.escape(alignment.name)}(?= \d)", named[alignment.id].replace("\\", r"\\"), text)
    return _STATIONS.sub(r"\1-\2", text)


def work_in_short(site: Site, work: WorkStands) -> str:
    """Return the name of a piece of work; of an inspection without what is looked at one by one."""
    name = _LOOKED_AT.sub(r"\1\2", work.name) if work.kind.is_look else work.name
    return place_in_short(site, name)


def trenches_in_short(site: Site) -> dict[str, str]:
    """Return the name of each trench by its id, without a last word that several share: `Lot 2` of `Lot 2 lateral`."""
    last = Counter(a.name.split()[-1] for a in site.alignments)
    names = {a.id: a.name.removesuffix(a.name.split()[-1]).strip() for a in site.alignments}
    often = Counter(names.values())
    return {
        a.id: names[a.id] if last[a.name.split()[-1]] > 2 and often[names[a.id]] == 1 and names[a.id] else a.name
        for a in site.alignments
    }
