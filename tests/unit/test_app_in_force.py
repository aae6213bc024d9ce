"""Which plan the dashboard works by: one that somebody accepted, for this very content of the site file."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

import scheduler
from app.in_force import in_force
from app.live import Live
from scheduler import bundled_sites
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.place import place_of
from scheduler.plan import plan_json
from scheduler.solve.outcome import Options

SMALL = bundled_sites()["orchard-lane"]


def test_only_a_plan_made_for_this_content_of_the_site_file_is_put_in_force(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    case = scheduler.load(SMALL)
    place = place_of(case.site, SMALL)
    plan = scheduler.plan(case, Options(only_finish=True, start_effort=0.1, finish_effort=0.1)).plan
    for name, sha256 in (("this", case.sha256), ("another", "0" * 64)):
        journal = place.open()
        of = plan.model_copy(update={"site": plan.site.model_copy(update={"sha256": sha256, "content": ""})})
        accepted = PlanAccepted(plan=journal.keep_plan(plan_json(of)), data_date=plan.data_date)
        journal.append(accepted, at=plan.data_date, by="Ruth Amsel")
        live = Live(case, place, journal.entries(), plan.data_date, None)
        journal.close()
        assert live.known.plan == accepted
        assert (in_force(live) is not None) == (name == "this"), name


def test_what_follows_from_a_record_is_shared_until_something_is_written(tmp_path, monkeypatch):
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    case = scheduler.load(SMALL)
    place, at = place_of(case.site, SMALL), case.network.clock.when(0)
    with closing(place.open()) as journal:

        def now() -> Live:
            return Live(case, place, journal.entries(), at, None, read_at=at)

        before = now()
        assert now().known is before.known
        assert Live(case, place, journal.entries(), at, None, back=True, read_at=at).worked is not before.worked
        journal.append(NoteKept(words="It rains.", when=at), at=at, by="Ruth Amsel")
        assert now().known is not before.known, "a new entry is seen at once"
        assert now().worked.entries != before.worked.entries
        other = replace(now(), place=replace(place, where="elsewhere"))
        assert other.worked is not now().worked, "nothing is shared with another record"
