"""One trade digs and makes the site's calls, whether the site file names it or marks it as its own."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.schedule import Schedule
from scheduler.site.files import read_site
from scheduler.site.site_record import Site
from scheduler.site.templates import Start, new_site
from tests.call_lists import calls_of


def _from_template(named: str | None) -> Site:
    site = read_site(new_site("house-service", Start("Any", date(2027, 3, 1))).text(), file="new.yaml")
    assert site.site.general_trade is None, "the template names no general trade"
    return site.model_copy(update={"site": site.site.model_copy(update={"general_trade": named})})


def _called_by(site: Site) -> dict[str, datetime]:
    """Return when each call is due [local time, no zone], with all work put at 10:00 on Monday 15 March 2027."""
    network = derive(site)
    monday = network.clock.tick(datetime(2027, 3, 15, 10))
    dates = {a.id: (monday, monday + a.work) for a in network.activities}
    return {c.about: c.by.replace(tzinfo=None) for c in calls_of(site, network, Schedule(dates))}


def test_a_site_from_the_template_is_told_to_call_before_its_own_crew_goes_home() -> None:
    friday, thursday = datetime(2027, 3, 12, 15, 30), datetime(2027, 3, 11, 15, 30)
    utility = datetime(2027, 3, 5, 15, 30)
    called = _called_by(_from_template(None))
    assert called == {
        "Conduits before cover": friday,
        "Water service before cover": friday,
        "Electrician, first day on site": thursday,
        "Plumber, first day on site": thursday,
        "Tie in at the pole": utility,
    }, "one day of notice for a Monday is given on Friday, two on Thursday; five of a Mon-Thu crew on Friday the 5th"


@pytest.mark.parametrize("named", [None, "site-crew"])
def test_naming_the_own_trade_changes_nothing(named: str | None) -> None:
    site = _from_template(named)
    assert site.general_trade.id == "site-crew"
    assert _called_by(site) == _called_by(_from_template("site-crew"))
    assert {a.trade for a in derive(site).activities if a.kind is Kind.BED or a.kind is Kind.SHADE} == {"site-crew"}


def test_a_named_trade_comes_before_an_own_one() -> None:
    assert _from_template("plumber").general_trade.id == "plumber"
