"""Run first by every Python of a server for tests: bundled sites get the plans that are kept for this run."""

from __future__ import annotations

import scheduler
from tests.kept_plans import as_kept

scheduler.plan = as_kept
