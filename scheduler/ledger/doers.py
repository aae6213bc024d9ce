"""Who does the work of a trade, by name: the firm of the site file, or the one that took its work over."""

from __future__ import annotations

import re
from datetime import datetime

from scheduler.ledger.state import State
from scheduler.site.site_record import Site


def trade_said(site: Site, state: State, trade: str, finished: datetime | None = None) -> str:
    """Return who does, or did, a piece of a trade's work; the id of a trade that the site file does not name.

    `finished` is when the piece was done; None: it is still to be done, or goes on.
    """
    taken = state.taken_over.get(trade)
    if taken is not None and (finished is None or finished >= taken.since):
        return taken.firm
    return next((t.name for t in site.trades if t.id == trade), trade)


def trade_names(site: Site, state: State) -> dict[str, str]:
    """Return who does what is left of each trade's work, by the trade's id."""
    return {t.id: trade_said(site, state, t.id) for t in site.trades}


def in_todays_names(site: Site, state: State, text: str) -> str:
    """Return what a plan said of work still to be done, by the firms that do it now."""
    for trade in site.trades:
        if trade.id in state.taken_over:
            before, now = re.escape(trade.name), state.taken_over[trade.id].firm.replace("\\", r"\\")
            text = re.sub(rf"(?<!\w){before}(?!\w)", now, text)
    return text
