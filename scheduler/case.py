"""A site that was opened: what was written, the network it gives, and what its layout breaks."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import scenarios
from scheduler.errors import BadInput
from scheduler.findings import Finding
from scheduler.ledger.rights import right_findings
from scheduler.network.contingency import with_contingency
from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.network.network_check import check_network
from scheduler.plan import Plan, SiteRef
from scheduler.site.files import load_site, read_site
from scheduler.site.job_id import content_digest
from scheduler.site.save import written_anew
from scheduler.site.site_record import Site
from scheduler.site.yamltext import read_yaml
from scheduler.trench.layout_check import check_layout, placed_findings
from scheduler.trench.looked_at import LookedAt, look
from scheduler.trench.open_questions import OpenQuestion
from scheduler.units import Units, in_units_of, told_in

IN_MEMORY = Path("site.yaml")
"""Where a site that was never in a file is taken to lie, when nobody says otherwise."""


@dataclass(frozen=True)
class Case:
    """An opened site: what was written, the network it gives, and what its layout check found."""

    path: Path
    """Its file, or where it would lie; its journal and its own rule sheets are looked for beside it."""
    sha256: str
    """Of the file, or of the text that it would hold; a plan names it."""
    site: Site
    network: Network
    layout: tuple[Finding, ...]
    content: str = ""
    """Like `sha256`, without the job id that stands in it: what a plan was made from stays the same."""

    def made(self, plan: Plan) -> bool:
        """Tell whether a plan was made from what this site says now, whatever its job id."""
        return plan.site.is_of(self.sha256, self.content)

    def with_margin(self, percent: int) -> Case:
        """Return the same site with at least so much contingency in all work of the job's own people and machines."""
        if percent <= self.network.margin_percent:
            return self
        known = self._stretched.get(percent)
        if known is None:
            known = self._stretched[percent] = replace(self, network=with_contingency(self.network, percent))
        return known

    def fitting(self, plan: Plan) -> Case:
        """Return the site with the contingency that a plan was made with: what its dates are judged by."""
        return self.with_margin(plan.margin_percent)

    @cached_property
    def _stretched(self) -> dict[int, Case]:
        """The same site by the contingency in its work [%], each worked out once."""
        return {}

    @cached_property
    def looked(self) -> LookedAt:
        """What its layout check looks at, and what the order of work cannot hold; worked out when first asked for."""
        with told_in(self.site.site.units):
            looked = look(self.site)
        left = (
            OpenQuestion(n.finding.where, n.finding.text, n.finding.remedy.rstrip("."), n.reaches)
            for n in self.network.notes
        )
        return replace(looked, uncovered=(*looked.uncovered, *left))

    @property
    def reference(self) -> SiteRef:
        """How a plan refers to this site."""
        job = self.site.site
        at = {"file": self.path.name, "sha256": self.sha256, "content": self.content}
        return SiteRef(name=job.name, time_zone=job.time_zone, **at)


def bundled_sites() -> dict[str, Path]:
    """Return the bundled site files by name, the smallest first."""
    folder = Path(scenarios.__file__).parent
    return {p.stem: p for p in sorted(folder.glob("*.yaml"), key=lambda p: (p.stat().st_size, p.name))}


def load(site: Path | str | Site, *, path: Path | None = None) -> Case:
    """Open a site, derive its network and check its layout.

    Parameters
    ----------
    site
        A `Path`: the site file to read. A `str`: the text of a site file (YAML), not its name.
        A `Site`: the record itself.
    path
        Of a text or record: the file in which it would lie. Its journal and its own rule sheets are
        looked for beside that, and faults name it. When left out, `site.yaml` in the folder that a
        record was read from or in the working folder, where no rule sheets are looked for.

    Returns
    -------
    Case
        Lengths in it are in feet, depths and sizes in inches, as the name of each field says;
        dates of its network are in ticks of 15 minutes from local midnight of the first day
        (`case.network.clock.when(tick)` gives the moment).

    Raises
    ------
    BadInput
        With every fault of the file, the text or the record, or else of the network that it
        gives, each with its line where there is one.
    """
    if isinstance(site, Path):
        path, opened, raw = site, load_site(site), site.read_bytes()
    else:
        folder = path.parent if path is not None else site.folder if isinstance(site, Site) else None
        path = path or (folder or Path()) / IN_MEMORY
        text = site if isinstance(site, str) else _as_text(site)
        opened, raw = read_site(text, file=str(path)), text.encode()
        opened = opened.lying_in(folder) if folder is not None else opened
    with told_in(opened.site.units):
        network = derive(opened)
        if faults := check_network(network):
            raise BadInput(faults)
        layout = _layout_of(opened, "" if isinstance(site, Site) else raw.decode(errors="replace"), str(path))
    return Case(path, hashlib.sha256(raw).hexdigest(), opened, network, layout, content_digest(raw))


def _layout_of(site: Site, text: str, file: str) -> tuple[Finding, ...]:
    """Return what the layout breaks; findings on one value of the file say its line, where the text is at hand."""
    placed = placed_findings(site)
    if not text or not any(p.path for p in placed):
        return tuple(p.finding for p in placed)
    document = read_yaml(text, file=file)
    return tuple(replace(p.finding, file=file, line=document.line_of(p.path)) if p.path else p.finding for p in placed)


def _as_text(site: Site) -> str:
    """Return the text of a site file that says what a record says; defaults are left out."""
    with told_in(site.site.units):
        data = site.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    return written_anew({"format": site.format} | data, "")


def units_of(case: Case) -> Units:
    """Return the units in which a case is told."""
    return case.site.site.units


@in_units_of(units_of)
def check(case: Case, *, reach: str = "") -> tuple[Finding, ...]:
    """Return what the layout of the trench, or of one reach by its id, breaks, the gravest first.

    Of the whole job also the hold points that nobody may release.

    Each finding names the rule and its source, what was found, what is required (inches or feet,
    in words), and what would mend it. Nothing is raised: a sound layout gives an empty tuple.
    """
    if reach:
        return tuple(check_layout(case.site, reach=reach))
    return (*case.layout, *right_findings(case.site, case.network))


def looked_at(case: Case, *, reach: str = "") -> LookedAt:
    """Return what `check` looked at on the whole job, or in one reach by its id.

    Every rule it applied with its value and whose that is, the entries of rule sheets that applied
    nowhere and why, what it could not know because a field was left out, and what nothing in the
    site file covers. An empty answer of `check` says that all is well only if this says so too.
    """
    return case.looked.at(reach) if reach else case.looked
