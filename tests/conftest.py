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
    "browser/test_access.py::test_neither_the_editor_nor_a_tag_nor_a_film_has_a_serious_fault_of_access[1440-dark]",
    "browser/test_access.py::test_no_page_has_a_serious_fault_of_access[1440-light]",
    "browser/test_calls_page.py",
    # the same at 390 px is in every run
    "browser/test_clock.py::test_the_clock_opens_on_the_date_of_the_site_and_its_calendar_covers_no_button[1440-900]",
    "browser/test_dashboard.py::test_a_link_opens_what_it_names_and_survives_a_reload",
    "browser/test_dashboard.py::test_a_solve_can_be_stopped_and_the_plan_is_called_stopped",
    # the same at 390 px is in every run
    "browser/test_dashboard.py::test_a_stretch_of_the_picture_is_touched_and_tells_what_is_so[1440-.wide]",
    # test_app_pages tells conflicts and ways out on every page; test_explain_conflicts finds them
    "browser/test_dashboard.py::test_an_impossible_site_is_told_which_rules_clash",
    "browser/test_dashboard.py::test_another_plan_is_looked_at_with_one_touch_and_shows_on_every_page",
    "browser/test_dashboard.py::test_every_page_fits_its_screen_and_says_what_it_must[1440]",
    "browser/test_dashboard.py::test_the_critical_chain_is_traced_step_by_step",
    "browser/test_dashboard.py::test_the_street_opens_by_alignment_and_its_search_can_be_stopped",
    # the same by stations is in every run
    "browser/test_dashboard.py::test_touching_work_tells_its_story[trade]",
    # test_app_day writes a day in one go and the inspection, on the same page without a browser
    "browser/test_day.py::test_a_day_is_written_in_one_go_and_the_trench_inspected",
    # the same for cover before its release is in every run; test_app_day has both
    "browser/test_day.py::test_what_contradicts_the_record_is_asked_once_and_marked[test-",
    "browser/test_editor.py",
    "browser/test_film.py",
    # the same on the street, which has more to say, is in every run
    "browser/test_first_screen.py::test_a_tag_shows_verdict_person_and_button_on_one_screen_of_a_phone[orchard-lane]",
    # as above
    "browser/test_first_screen.py::test_today_answers_the_morning_on_one_screen_of_a_phone[orchard-lane]",
    "browser/test_installed.py",
    "browser/test_kept_pictures.py",
    "browser/test_live.py::test_a_delay_is_reported_on_a_phone_alternatives_compared_and_one_accepted",
    "browser/test_live.py::test_pages_of_a_job_under_way_fit_their_screens[390]",
    # what is missing is told live in every run; test_site_draft_form fills the forms, test_site_draft plans
    "browser/test_own_site.py::test_an_own_site_is_planned_in_few_acts",
    "browser/test_own_site.py::test_what_was_typed_is_there_after_a_reload_and_drawn_as_it_changes",
    "browser/test_paper.py",
    "browser/test_reasons.py",
    "browser/test_record_database.py",
    "browser/test_record_watch.py::test_an_uploaded_site_keeps_its_record_when_it_is_edited_planned_and_loaded_again",
    "browser/test_tasks.py::test_a_day_of_work_with_one_failure_is_recorded",
    # test_live releases with a photo, test_keyboard from the tag
    "browser/test_tasks.py::test_a_hold_is_released_with_a_photo_from_its_tag",
    # test_keyboard reads the same rule from the picture
    "browser/test_tasks.py::test_the_rule_that_governs_a_section_is_found",
    # the same on the street is in every run
    "browser/test_tasks.py::test_what_stands_open_tonight_is_seen_at_once[orchard-lane]",
    # as above
    "browser/test_tasks.py::test_whom_to_call_is_found_and_dialled[orchard-lane]",
    "property/test_random_sites.py",
    "property/test_replan.py",
    "unit/test_aims.py",
    "unit/test_calls_told.py::test_a_no_is_shown_as_such_and_leads_to_a_plan_that_keeps_it",
    "unit/test_choosing.py::test_random_sites_give_plans_of_which_none_is_beaten",
    "unit/test_malicious.py::test_no_number_breaks_the_program",
    # test_project checks all types; the wheel is looked through for the mark that it has them
    "unit/test_readme.py::test_a_program_is_checked_against_the_types_of_the_wheel",
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
