"""The register of layout rules: every built-in rule by id, and the value it has at a place."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.trench.rule import LayoutRule
from scheduler.trench.rules import (
    apart_rules,
    asked_rules,
    conduit_rules,
    cover_rules,
    ground_rules,
    proof_rules,
    surround_rules,
)

GROUPS = (cover_rules, apart_rules, surround_rules, ground_rules, conduit_rules, proof_rules, asked_rules)

RULES: Mapping[str, LayoutRule] = {r.id: r for group in GROUPS for r in group.RULES}
"""Every layout rule, in the order `jointtrench check` and the dashboard list them."""
