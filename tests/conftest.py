"""The order in which files of tests are handed out when several processes share them."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from itertools import count

import pytest

from tests.kept_plans import KEPT_PLANS

LONGEST_FIRST = {folder: place for place, folder in enumerate(("browser", "property", "known_results"))}

BY_NAME = (
    "browser/test_access.py::test_no_page_has_a_serious_fault_of_access[1440-light]",
    "browser/test_access.py::test_neither_the_editor_nor_a_tag_nor_a_film_has_a_serious_fault_of_access[1440-dark]",
    "browser/test_calls_page.py",
    "browser/test_dashboard.py::test_a_link_opens_what_it_names_and_survives_a_reload",
    "browser/test_dashboard.py::test_a_solve_can_be_stopped_and_the_plan_is_called_stopped",
    "browser/test_dashboard.py::test_another_plan_is_looked_at_with_one_touch_and_shows_on_every_page",
    "browser/test_dashboard.py::test_every_page_fits_its_screen_and_says_what_it_must[1440]",
    "browser/test_dashboard.py::test_the_critical_chain_is_traced_step_by_step",
    "browser/test_dashboard.py::test_the_street_opens_by_alignment_and_its_search_can_be_stopped",
    "browser/test_editor.py",
    "browser/test_film.py",
    "browser/test_installed.py",
    "browser/test_kept_pictures.py",
    "browser/test_live.py::test_a_delay_is_reported_on_a_phone_alternatives_compared_and_one_accepted",
    "browser/test_live.py::test_pages_of_a_job_under_way_fit_their_screens[390]",
    "browser/test_own_site.py::test_what_was_typed_is_there_after_a_reload_and_drawn_as_it_changes",
    "browser/test_paper.py",
    "browser/test_reasons.py",
    "browser/test_record_database.py",
    "browser/test_record_watch.py::test_an_uploaded_site_keeps_its_record_when_it_is_edited_planned_and_loaded_again",
    "browser/test_tasks.py::test_a_day_of_work_with_one_failure_is_recorded",
    "property/test_random_sites.py",
    "property/test_replan.py",
    "unit/test_aims.py",
    "unit/test_calls_told.py::test_a_no_is_shown_as_such_and_leads_to_a_plan_that_keeps_it",
    "unit/test_choosing.py::test_random_sites_give_plans_of_which_none_is_beaten",
    "unit/test_malicious.py::test_no_number_breaks_the_program",
    "unit/test_replan_again.py",
    "unit/test_replan_cli.py::test_a_plan_accepted_for_another_content_is_said_and_not_taken",
    "unit/test_replan_least.py",
    "unit/test_rolling_horizon.py",
    "unit/test_scripted_week.py",
    "unit/test_solve_random.py",
)
"""What takes longest and looks at things that quicker tests look at too: run by name, with `-m benchmark`."""

_homes = count(1)


@pytest.fixture(autouse=True)
def _home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test a folder of its own in place of the user's; it is made when something is kept in it."""
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path_factory.getbasetemp() / f"home-{next(_homes)}"))


@pytest.fixture(autouse=True)
def _no_browser_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let pages that no browser draws wait for none."""
    first = sys.modules.get("app.components.first_screen")
    if first is not None:
        monkeypatch.setattr(first, "DRAWING_S", 0.0)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch for pictures, which are a fifth of the work of the pages photographed, and which no test reads."""
    parser.addoption("--photographs", action="store_true", help="keep pictures of pages in tests/browser/screenshots/")


def pytest_configure(config: pytest.Config) -> None:
    """Hand files out in the order below instead of by how many tests they hold, so that no core idles at the end.

    All processes of the run share a folder in which plans are kept.
    """
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False
    if not hasattr(config, "workerinput"):
        folder = os.environ[KEPT_PLANS] = tempfile.mkdtemp(prefix="plans-")
        config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave the longest tests to be run by name, and begin with the folders whose files take longest."""
    for item in items:
        if item.nodeid.removeprefix("tests/").startswith(BY_NAME):
            item.add_marker(pytest.mark.benchmark)
    items.sort(key=lambda item: LONGEST_FIRST.get(item.path.parent.name, len(LONGEST_FIRST)))
