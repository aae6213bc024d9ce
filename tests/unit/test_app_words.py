"""Words of the dashboard: moments, counts, and names that may hold anything."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.address import told_apart
from app.words import amount, count, escape, html_escape, plain, proof
from scheduler.plan import Plan, SiteRef, Stage
from scheduler.solve.outcome import FINISH, GIVEN_UP

NOON = datetime(2027, 3, 9, 12, 0, tzinfo=UTC)


def plan(status, **more):
    return Plan(site=SiteRef(name="s"), data_date=NOON, status=status, **more)


def test_amounts_and_counts():
    assert [amount(v) for v in (None, 3.0, 1234.56)] == ["-", "3", "1,234.6"]
    assert [count(n, "look") for n in (0, 1, 2)] == ["0 looks", "1 look", "2 looks"]


def test_how_sure_a_finish_is():
    assert proof(plan("optimal")).startswith("Proved")
    assert proof(plan("stopped", finish_bound=NOON)) == (
        "Stopped before it was proved best. No plan can finish before Tue 9 Mar 12:00."
    )
    assert "Proved" not in proof(plan("feasible"))
    given_up = Stage(name=FINISH, value=2.0, bound=0.0, bound_kind=GIVEN_UP)
    later = plan("optimal", finish=NOON.replace(day=11), finish_bound=NOON, stages=[given_up])
    assert proof(later) == "Proved: Tue 9 Mar 12:00 is the earliest finish; this plan gives some of that up."
    unproved = later.model_copy(update={"stages": []})
    assert proof(unproved) == "Not proved best. No plan can finish before Tue 9 Mar 12:00."


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Reach *1* [a](b)", r"Reach \*1\* \[a\](b)"),
        ("<script>alert(1)</script>", r"\<script\>alert(1)\</script\>"),
        ("- item", r"\- item"),
        ("1. item", r"1\. item"),
        ("a\n\n# head", r"a \# head"),
        (r"back\slash", r"back\\slash"),
        ("$x$ ~y~ `z` ==m==", r"\$x\$ \~y\~ \`z\` \=\=m\=\="),
        ("&lt; ![i](u)", r"\&lt; \!\[i\](u)"),
        ("07:00 to 15:30: done", "07:00 to 15:30: done"),
    ],
)
def test_markdown_in_names_is_shown_as_it_stands(text, shown):
    assert escape(text) == shown


@pytest.mark.parametrize("sign", [":material/delete:", ":red[x]", ":smile:", "https://x.example", "www.x.example"])
def test_signs_and_links_are_broken(sign):
    shown = escape(sign)
    assert sign not in shown
    assert shown.replace("\u2060", "").replace("\\", "") == sign


@given(st.text(max_size=60))
def test_escaping_loses_nothing_but_spaces(text):
    shown = escape(text)
    assert "\n" not in shown
    unescaped = re.sub(r"\\(.)", r"\1", shown.replace("\u2060", ""))
    assert unescaped == " ".join(text.split()).replace("\u2060", "")


def test_figures_and_their_words_agree():
    assert html_escape("a <b> & c") == "a &lt;b&gt; &amp; c"
    assert plain(f"<b>W</b> {html_escape('a <b> & c')}") == "W a <b> & c"


def test_two_things_of_one_name_are_told_apart_where_one_is_chosen() -> None:
    assert told_apart({"a": "Orchard", "b": "Orchard", "c": "Street"}) == {
        "a": "Orchard (a)", "b": "Orchard (b)", "c": "Street",
    }  # fmt: skip
