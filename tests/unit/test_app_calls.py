"""The calls on Today, without a browser: each is ticked off with its answer."""

from __future__ import annotations

from tests.unit.test_app_live import page, place, texts

__all__ = ["place"]


def test_a_call_is_ticked_off_on_today(place):
    at = page("today", person="r-amsel")
    assert "Tom Bell, Plumber (555-0112)" in texts(at)
    (button,) = [b for b in at.button if b.label == "No answer" and "call/plumber" in b.key][:1]
    button.click().run()
    (entry,) = place.open().entries()
    assert (entry.event.name, entry.event.of, entry.event.answer) == ("called", "plumber", "no_answer")
    at = page("today", person="r-amsel")
    assert "No answer Mon 1 Mar" in texts(at)
    (button,) = [b for b in at.button if b.label == "Agreed" and b.key.removeprefix("agreed-") in button.key]
    button.click().run()
    assert place.open().entries()[-1].event.answer == "agreed"
    at = page("today", person="r-amsel")
    assert not [b for b in at.button if b.key == button.key]
