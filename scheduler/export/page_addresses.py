"""Addresses of the dashboard's pages, for what is printed or sent to a phone."""

from __future__ import annotations

from pathlib import PurePath
from urllib.parse import quote, urlencode, urlsplit

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.plan import Plan

LONGEST = 200
"""Characters; a longer address makes a QR code too fine to scan from a muddy tag."""


def checked_base(link: str) -> str:
    """Return the address of a dashboard without its last slash, or nothing if none is given.

    Raises BadInput when it is no http or https address of at most 200 characters, or carries a query.
    """
    if not link:
        return ""
    try:
        parts = urlsplit(link)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and not (parts.query or parts.fragment)
        good = good and parts.port != 0 and link.isascii() and link.isprintable() and " " not in link
    except ValueError:
        good = False
    if not good or len(link) > LONGEST:
        text = "cannot be used."
        required = f"such as https://trench.example or http://192.0.2.7:8501, at most {LONGEST} characters"
        raise BadInput([Finding("export/link", Severity.STOP, "address of the dashboard", text, link[:80], required)])
    return link.rstrip("/")


def hold_link(base: str, plan: Plan, hold: str) -> str:
    """Return the address of the answer for a hold point; nothing without a base address."""
    return _page(base, "inspections", plan, stake=hold)


def activity_link(base: str, plan: Plan, activity: str) -> str:
    """Return the address of an activity on the schedule page; nothing without a base address."""
    return _page(base, "schedule", plan, activity=activity)


def _page(base: str, page: str, plan: Plan, **query: str) -> str:
    site = {"site": PurePath(plan.site.file).stem} if plan.site.file else {}
    return f"{base}/{page}?{urlencode({**site, **query}, quote_via=quote)}" if base else ""
