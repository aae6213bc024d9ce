"""Which modules are measured, with which tests: those that reach them and take no longer than a few seconds each."""

from __future__ import annotations

from pathlib import Path

ANSWER = (
    "clearance",
    "corrections",
    "cover_answer",
    "covered_early",
    "covering",
    "earliest",
    "evidence",
    "halts",
    "hold_standing",
    "holds",
    "known",
    "moments",
    "rights",
    "seen",
    "since",
    "state",
    "timed",
    "unfinished",
    "witness",
)
"""Modules of the ledger that answer whether something may be covered."""
RECORD = tuple(sorted(p.stem for p in Path("scheduler/ledger").glob("*.py") if p.stem not in ANSWER))
"""The others: they keep what was written, find it again, and refuse what cannot be true."""
ANSWER_TESTS = (
    "tests/unit/test_answer_table.py",
    "tests/unit/test_answer_minutes.py",
    "tests/unit/test_ledger_cover.py",
    "tests/unit/test_ledger_holds.py",
    "tests/unit/test_ledger_rights.py",
    "tests/property/test_answer.py",
)
RECORD_TESTS = (
    "tests/unit/test_contradictions.py",
    "tests/unit/test_called.py",
    "tests/unit/test_ledger_day.py",
    "tests/unit/test_ledger_attachments.py",
    "tests/unit/test_ledger_blank.py",
    "tests/unit/test_ledger_cli.py",
    "tests/unit/test_ledger_events.py",
    "tests/unit/test_ledger_holds.py",
    "tests/unit/test_ledger_faults.py",
    "tests/unit/test_ledger_identity.py",
    "tests/unit/test_ledger_keeping.py",
    "tests/unit/test_ledger_store.py",
    "tests/unit/test_ledger_verify.py",
    "tests/property/test_ledger.py",
)
TRENCH_TESTS = (
    "tests/known_results/test_trench_subpart_p.py",
    "tests/known_results/test_trench_power.py",
    "tests/known_results/test_trench_pipes.py",
    "tests/known_results/test_trench_practice.py",
    "tests/known_results/test_trench_earth.py",
    "tests/unit/test_trench_quantities.py",
)
AUDIT_TESTS = ("tests/unit/test_audit.py", "tests/unit/test_audit_shared.py", "tests/unit/test_audit_words.py")
SOLVE_TESTS = ("tests/unit/test_solve_stages.py", "tests/unit/test_solve.py")
REPLAN_TESTS = ("tests/unit/test_replan_standing.py",)

MODULES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "trench/soil": (("scheduler/trench/soil.py",), TRENCH_TESTS),
    "trench/cover": (
        ("scheduler/trench/cover_depth.py", "scheduler/trench/rules/cover_rules.py"),
        TRENCH_TESTS[1:4],
    ),
    "measures": (("scheduler/measures.py", "scheduler/shared_visits.py"), ("tests/unit/test_measures.py",)),
    "situation/notice": (("scheduler/situation/notice.py",), ("tests/unit/test_calls.py",)),
    "audit": (("scheduler/audit",), AUDIT_TESTS),
    "ledger/answer": (tuple(f"scheduler/ledger/{m}.py" for m in ANSWER), ANSWER_TESTS),
    "ledger/record": (tuple(f"scheduler/ledger/{m}.py" for m in RECORD), RECORD_TESTS),
    "situation/standing": (("scheduler/situation/standing.py",), REPLAN_TESTS),
    "explain/conflicts": (("scheduler/explain/conflicts.py",), ("tests/unit/test_conflict_search.py",)),
    "planning": (("scheduler/planning.py", "scheduler/accepting.py"), ("tests/unit/test_planning.py",)),
    "solve/stages": (
        ("scheduler/solve/stages.py", "scheduler/solve/finish.py", "scheduler/solve/goals.py"),
        SOLVE_TESTS,
    ),
    "solve/bounds": (
        ("scheduler/solve/bounds",),
        ("tests/unit/test_bounds_counted.py", "tests/unit/test_bounds.py", "tests/unit/test_solve_stages.py"),
    ),
}
"""By name: source files or folders, and test files."""
