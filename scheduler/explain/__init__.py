"""Why a plan is as it is, and what can be read off it: chains, floats, reasons, conflicts, what stands open."""

from scheduler.explain.chain import Chain, ChainStep, chains
from scheduler.explain.exact import Latest, latest_finish
from scheduler.explain.no_conflict import compared, nearest_to_conflict
from scheduler.explain.story import story, why_not_earlier
from scheduler.explain.upsets import next_upsets
from scheduler.margin_said import margin_borne, who_has_margin
from scheduler.measures import open_ft, opened, worked
from scheduler.proved import is_best, proof
from scheduler.slack import has_little_slack, slack_in_short, slack_said

__all__ = [
    "Chain",
    "ChainStep",
    "Latest",
    "chains",
    "compared",
    "has_little_slack",
    "is_best",
    "latest_finish",
    "margin_borne",
    "nearest_to_conflict",
    "next_upsets",
    "open_ft",
    "opened",
    "proof",
    "slack_in_short",
    "slack_said",
    "story",
    "who_has_margin",
    "why_not_earlier",
    "worked",
]
