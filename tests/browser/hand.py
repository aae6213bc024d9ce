"""A hand that does a task in the browser and is counted: each tap, each field that is filled, each choice is one."""

from __future__ import annotations

import re
from typing import Any

from tests.browser.dashboard import Dashboard


class Hand:
    """Somebody at the dashboard whose every act is counted."""

    def __init__(self, dashboard: Dashboard) -> None:
        self.dashboard, self.acts = dashboard, []

    acts: list[str]
    """What was done, in order."""

    def __len__(self) -> int:
        return len(self.acts)

    @property
    def main(self) -> Any:
        """The page without its sidebar and its head."""
        return self.dashboard.page.get_by_test_id("stMain")

    def tap(self, control: Any) -> None:
        """Touch a button, a link or a mark."""
        self.acts.append(f"tap {control}")
        control.click()
        self.dashboard.settled()

    def box(self, label: str) -> Any:
        """Return the list of a label, which is also called by what is chosen in it."""
        return self.main.get_by_role("combobox", name=re.compile(rf"^(Selected .*)?{re.escape(label)}$"))

    def press(self, name: str) -> None:
        """Touch the button of a name."""
        self.tap(self.main.get_by_role("button", name=name, exact=True))

    def fill(self, label: str, text: str) -> None:
        """Fill a field and leave it."""
        self.acts.append(f"fill {label}")
        control = self.main.get_by_label(label, exact=True)
        control.fill(text)
        control.press("Enter")
        self.dashboard.settled()

    def choose(self, label: str, value: str) -> None:
        """Choose from a list, or type there what it does not have."""
        self.acts.append(f"choose {label}")
        box = self.box(label)
        box.click()
        box.fill(value)
        self.dashboard.page.get_by_role("option").first.wait_for()
        box.press("Enter")
        self.dashboard.settled()
