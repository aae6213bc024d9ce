"""Thirty people on three sites of one served dashboard at once: how long they wait, and that nobody meets another site.

    python -m tests.benchmarks.served_load [--people 30] [--sites 3] [--minutes 10] [--postgresql] [--wrongly]

`jointtrench serve` runs over TLS; everybody signs in by a personal link of their own. A browser each would be too much
for a small machine, so each person speaks to the server as a browser does: the pages asked for, the widgets touched,
and the looks at the record that every open page makes by itself. What they do, one thing after another, with a pause
to read: switch pages, open one, look at a tag's answer (connecting counts), write a note. Every message that comes is
read for people of other sites, whose names say here where they belong. `--wrongly` expects everybody to be of another
site, to see that the reading finds it. `--postgresql` keeps records and sign-in in a server of its own.
Wanted: a page within 1 s and an answer within 0.5 s (median), nothing mixed.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import os
import random
import re
import ssl
import statistics
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import requests

import scheduler
from scheduler import bundled_sites
from scheduler.site import Person
from tests.benchmarks.ledger_drills import postgresql
from tests.benchmarks.page_stream import OwnNames, PageStream
from tests.browser.served_phones import CODE, ServedSite, serve_to_phones

WANTED_S = {"page": 1.0, "tag's answer": 0.5}
MAY_NOT_WRITE = "customer"
PAUSES_S = 8.0, 30.0
"""Least and most that somebody reads before they do the next thing."""
DEEDS = {"switch": 10, "open": 3, "answer": 5, "note": 2}
"""What people do, and how often of twenty times."""
PAGES = ("", "record", "schedule", "inspections", "trench")
"""What everybody may open who works or looks there."""
LOOK_S = 1.0
PLANNED_S = 300.0


def family_name(site: str) -> str:
    """Return the name that everybody of a site bears last, and nobody and nothing else."""
    return f"{site.capitalize()}folk"


def write_site(folder: Path, name: str, source: Path, least: int) -> Path:
    """Write a site as another job, whose people all bear its name, with so many who may write at least."""
    text = source.read_text(encoding="utf-8")
    head, people, tail = re.split(r"(?m)^(people:\n(?:  .*\n)+)", text, maxsplit=1)
    people = re.sub(r"name: ([^,]+),", rf"name: \1 {family_name(name)},", people)
    more = least - len(re.findall(r"(?m)^  - ", people)) + people.count(f"role: {MAY_NOT_WRITE}")
    for n in range(more):
        who = f"id: more-{n}, name: Number {n} {family_name(name)}"
        people += f"  - {{{who}, role: competent_person, of: Helpers, phone: 555-0190}}\n"
    head = re.sub(r"(?m)^(  job_id: \S+)$", rf"\1-{name}", head)
    path = folder / f"{name}.yaml"
    path.write_text(head + people + tail, encoding="utf-8")
    return path


def sign_in(site: ServedSite, name: str, person: Person) -> str:
    """Open a personal link, choose a code; return what the browser sends of itself from then on."""
    link, number = site.link(name, person.id, person.role)
    asked, ends = {"verify": str(site.folder / "authority.pem"), "allow_redirects": False}, {"Origin": site.address}
    opened = requests.post(link, {"number": number}, headers=ends, timeout=30, **asked)
    cookie = "; ".join(f"{c.name}={c.value}" for c in opened.cookies)
    kept = requests.post(
        f"{site.address}/code", {"code": CODE, "again": CODE}, headers={**ends, "Cookie": cookie}, timeout=30, **asked
    )
    kept.raise_for_status()
    return cookie


class Wait(NamedTuple):
    """When somebody began to wait, by the monotonic clock, and how long they did [s]."""

    began: float
    seconds: float


@dataclass
class Visitor:
    """Somebody with a phone: what they may do, how long they waited for it, and what they were shown of others."""

    site: ServedSite
    cookie: str
    trusted: ssl.SSLContext
    names: OwnNames
    tags: list[str]
    waits: dict[str, list[Wait]]
    failed: list[str]
    chance: random.Random
    page: PageStream | None = None

    def waited(self, what: str, began: float) -> None:
        """Note how long something took that began at a moment of the monotonic clock."""
        self.waits[what].append(Wait(began, time.monotonic() - began))

    async def opened(self, word: str, **query: str) -> PageStream:
        """Leave the page there is, and open another by its address."""
        await self.leave()
        self.page = await PageStream(self.site.address, self.cookie, self.trusted, self.names).open(word, **query)
        return self.page

    async def leave(self) -> None:
        """Close the page there is."""
        if self.page is not None:
            self.failed += self.page.broken
            await self.page.close()
            self.page = None

    async def act(self, until: float) -> None:
        """Do one thing after another until a moment of the monotonic clock."""
        await asyncio.sleep(self.chance.uniform(0, PAUSES_S[1]))
        while time.monotonic() < until:
            deed = self.chance.choices(list(DEEDS), list(DEEDS.values()))[0]
            try:
                await {"switch": self.switch, "open": self.look_in, "answer": self.ask, "note": self.note}[deed]()
            except (TimeoutError, OSError, KeyError) as error:
                self.failed.append(f"{deed}: {type(error).__name__} {error}")
                await self.leave()
            await asyncio.sleep(self.chance.uniform(*PAUSES_S))
        await self.leave()

    async def switch(self) -> None:
        """Go to another page by its link."""
        if self.page is None or "record" not in self.page.pages:
            await self.look_in()
        elif self.page is not None:
            began = time.monotonic()
            await self.page.switch(self.chance.choice(PAGES))
            self.waited("page", began)

    async def look_in(self) -> None:
        """Open a page by its address."""
        began = time.monotonic()
        page = await self.opened(self.chance.choice(PAGES))
        await page.drawn()
        self.waited("page", began)

    async def ask(self) -> None:
        """Scan a tag and read its answer."""
        began = time.monotonic()
        page = await self.opened("inspections", stake=self.chance.choice(self.tags))
        await page.says("# ")
        self.waited("tag's answer", began)
        await page.drawn()
        self.waited("rest of a tag's page", began)

    async def note(self) -> None:
        """Write a note, until the page says that it is written down."""
        page = await self.opened("record")
        await page.drawn()
        await page.touch(string_value=("selectbox", "What happened?", "A note or a photo"))
        await page.drawn()
        words = f"Seen at {time.time():.6f}."
        began = time.monotonic()
        await page.touch(string_value=("text_area", "Words", words), trigger_value=("button", "Write it down", True))
        await page.says("**Written down**")
        self.waited("entry", began)
        await page.drawn()


def memory_mb(pid: int) -> tuple[float, float]:
    """Return what a process holds in memory, and the most that it ever held, in MB."""
    status = Path(f"/proc/{pid}/status").read_text()
    now, most = (int(re.search(rf"{k}:\s+(\d+)", status)[1]) / 1024 for k in ("VmRSS", "VmHWM"))  # type: ignore[index]
    return now, most


def serving(launcher: int) -> int:
    """Return the process that serves, by the one that was started as a command."""
    return int(Path(f"/proc/{launcher}/task/{launcher}/children").read_text().split()[0])


def processor_s(pid: int) -> float:
    """Return the seconds of processor that a process has used."""
    after_name = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")


def visitors(served: ServedSite, sites: dict[str, Path], count: int, *, wrongly: bool) -> Iterator[Visitor]:
    """Sign people in, one of each site after another."""
    waits: dict[str, list[Wait]] = defaultdict(list)
    failed: list[str] = []
    cases = {name: scheduler.load(path) for name, path in sites.items()}
    writers = {n: [p for p in c.site.people if p.role != MAY_NOT_WRITE] for n, c in cases.items()}
    turns = itertools.chain.from_iterable(
        zip(*([(n, p) for p in people] for n, people in writers.items()), strict=False)
    )
    for n, (name, person) in enumerate(itertools.islice(turns, count)):
        own = name if not wrongly else next(s for s in sites if s != name)
        names = OwnNames(person.name, person.role, tuple(family_name(s) for s in sites if s != own))
        tags = [h.id for h in cases[name].network.holds]
        cookie = sign_in(served, name, person)
        yield Visitor(served, cookie, served.trusted, names, tags, waits, failed, random.Random(n))


async def planned(first: list[Visitor]) -> None:
    """Wait until every site has a plan to show, as on a server that runs."""
    for one in first:
        end = time.monotonic() + PLANNED_S
        page = await one.opened("record")
        while ("selectbox", "What happened?") not in page.widgets and time.monotonic() < end:
            await asyncio.sleep(LOOK_S)
        await one.leave()


async def run(people: list[Visitor], pid: int, sites: int, seconds: float) -> None:
    """Have everybody act for so long, and print how much of the machine the server and the people took."""
    began = time.monotonic()
    await planned(people[:sites])
    print(f"a plan of every site after {time.monotonic() - began:.0f} s", flush=True)
    start, _ = memory_mb(pid)
    began, used, own = time.monotonic(), processor_s(pid), time.process_time()
    await asyncio.gather(*(p.act(began + seconds) for p in people))
    took = time.monotonic() - began
    end, most = memory_mb(pid)
    print(f"memory of the server: {start:.0f} MB at first, {most:.0f} MB at most, {end:.0f} MB in the end")
    share, mine = (processor_s(pid) - used) / took, (time.process_time() - own) / took
    print(f"processor: the server {share:.2f}, the people {mine:.2f} of {os.cpu_count()} cores")


def told(people: list[Visitor]) -> bool:
    """Print the figures; return whether all is as it is wanted."""
    waits, good = people[0].waits, True
    start = min(w.began for found in waits.values() for w in found)
    for what, found in waits.items():
        seconds, wanted = [w.seconds for w in found], WANTED_S.get(what)
        middle, ninth = statistics.median(seconds), sorted(seconds)[int(0.9 * (len(seconds) - 1))]
        tail = f" (wanted: median {wanted:g} s)" if wanted else ""
        good = good and (wanted is None or middle <= wanted)
        print(f"{what}: {len(seconds)}, median {middle:.2f} s, 90 % {ninth:.2f} s, longest {max(seconds):.2f} s{tail}")
        by_minute: dict[int, list[float]] = defaultdict(list)
        for wait in found:
            by_minute[int((wait.began - start) // 60)].append(wait.seconds)
        print("  median by minute: " + ", ".join(f"{statistics.median(v):.2f}" for _, v in sorted(by_minute.items())))
    names = [p.names for p in people]
    mixed, failed = [m for n in names for m in n.mixed], people[0].failed
    print(f"messages read: {sum(n.messages for n in names)}, 'you are' read {sum(n.named for n in names)} times")
    print(f"mixed sessions: {len({m for m in mixed})} (wanted 0); never answered or broken: {len(failed)} (wanted 0)")
    for line in sorted({*mixed})[:10] + sorted(set(failed))[:10]:
        print(f"  {line}")
    return good and not mixed and not failed and all(n.named for n in names)


def main() -> int:
    """Serve the sites, have the people act, print the figures; return 1 where something is not as it is wanted."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--people", type=int, default=30)
    parser.add_argument("--sites", type=int, default=3)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--wrongly", action="store_true", help="expect everybody to be of another site")
    parser.add_argument("--postgresql", action="store_true", help="keep it all in PostgreSQL, as the container does")
    asked = parser.parse_args()
    with ExitStack() as stack:
        kept = stack.enter_context(tempfile.TemporaryDirectory())
        database = stack.enter_context(postgresql()).where if asked.postgresql else ""
        folder, written = Path(kept), Path(kept) / "written"
        written.mkdir()
        sources = itertools.cycle(bundled_sites().items())
        named = (
            (f"{key.partition('-')[0]}{n // len(bundled_sites()) or ''}", path) for n, (key, path) in enumerate(sources)
        )
        least = -(-asked.people // asked.sites)
        sites = {n: write_site(written, n, p, least) for n, p in itertools.islice(named, asked.sites)}
        with serve_to_phones(folder, sites, database=database, own_plans=True) as served:
            people = list(visitors(served, sites, asked.people, wrongly=asked.wrongly))
            print(f"{len(people)} people on {', '.join(sites)}, {os.cpu_count()} cores", flush=True)
            asyncio.run(run(people, serving(served.server.pid), asked.sites, 60 * asked.minutes))
            print(f"load of the machine (1, 5, 15 min): {os.getloadavg()}")
            return 0 if told(people) else 1


if __name__ == "__main__":
    raise SystemExit(main())
