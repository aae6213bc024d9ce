"""What checks found, as a list that reads on a phone: how grave, where, what, found against expected, how to mend."""

from __future__ import annotations

from collections.abc import Iterable

import streamlit as st

from app.words import escape
from scheduler import Finding
from scheduler.plan import PlanFinding

WEIGHT = {"stop": "Stop", "fix": "Fix", "note": "Note"}


def show_findings(found: Iterable[Finding | PlanFinding]) -> None:
    """Show findings, each in a card of its own."""
    for finding in found:
        with st.container(border=True, gap="xsmall"):
            st.markdown(f"**{WEIGHT[finding.severity]}** · {escape(finding.where)}")
            st.markdown(_sentence(finding))
            if finding.remedy:
                st.markdown(f"To fix it: {escape(finding.remedy)}")
            if finding.source:
                st.caption(f"Source: {escape(finding.source)}")


def _sentence(finding: Finding | PlanFinding) -> str:
    parts = [escape(finding.text)]
    if finding.found:
        parts.append(f"Found **{escape(finding.found)}**.")
    if finding.required:
        parts.append(f"Needed: {escape(finding.required)}.")
    return " ".join(parts)
