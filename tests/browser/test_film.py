"""The film of the job from above: it plays on by itself, stops at its end, and is taken along in one file."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect


@pytest.mark.parametrize("width", [1440, 390])
def test_the_film_plays_and_says_that_all_of_it_is_planned(visit, tmp_path: Path, width: int) -> None:
    board = visit(width=width)
    board.open("Trench").planned()
    board.unfold("What is planned for the end of a day")
    main = board.page.get_by_test_id("stMain")
    said = main.get_by_text("Planned, end of")
    first = said.inner_text()
    main.get_by_role("button", name="Play").click()
    expect(said).not_to_have_text(first)
    main.get_by_role("button", name="Pause").click()
    main.get_by_role("button", name="Play").wait_for()
    board.shown()
    assert "Planned, end of" in board.text()
    assert board.page.locator("svg.from-above:visible .planned").count() > 0
    for scheme in board.in_light_and_dark():
        assert (board.overflow_px(), board.exceptions()) == (0, 0), scheme
        board.photograph(f"film-{width}-{scheme}")
    main.get_by_text("Every day as a table").click()
    board.settled()
    with board.page.expect_download() as kept:
        main.get_by_role("button", name="Download the film").click()
    file = tmp_path / "film.svg"
    kept.value.save_as(file)
    board.photograph(f"film-table-{width}")
    assert (board.overflow_px(), board.exceptions()) == (0, 0)
    alone = board.page.context.new_page()
    alone.goto(file.as_uri())
    alone.wait_for_timeout(1000)
    seen = (
        "() => [...document.querySelectorAll('.frame')].filter(g => getComputedStyle(g).visibility == 'visible').length"
    )
    assert alone.evaluate(seen) == 1, "one drawing at a time"
    alone.close()
