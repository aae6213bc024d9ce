"""A site file that cannot be used: every fault, with its line, what was found and what is expected."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from scheduler.errors import BadInput


def show_faults(name: str, bad: BadInput) -> None:
    """Show every fault of an input."""
    st.header("This site file cannot be used yet")
    count = len(bad.findings)
    st.write(f"{count} thing{'s' if count != 1 else ''} to mend in {name}. Nothing was planned.")
    rows = [
        {
            "line": f.line,
            "where": f.where,
            "what": f.text,
            "found": f.found,
            "expected": f.required,
            "mend": f.remedy,
        }
        for f in bad.findings
    ]
    st.dataframe(pd.DataFrame(rows), hide_index=True, width="stretch")
