"""What the commands that keep a record need: heads and keys, backups and exports, and whose journal it is."""

from scheduler.ledger.backup import back_up, opened_backup
from scheduler.ledger.heads import Head, head_of, read_heads
from scheduler.ledger.identity import JobName, kept_jobs, rename
from scheduler.ledger.lines import check_lines, export_lines
from scheduler.ledger.noted import Noted, note, noted
from scheduler.ledger.older import is_not_ours
from scheduler.ledger.restoring import Restoring, look_at_restoring, restore
from scheduler.ledger.signing import checked_public, own_signer
from scheduler.ledger.take_over import Older, look_at, sources, take_over
from scheduler.ledger.time_stamps import TimeStamp, check_stamps, stamp_journal

__all__ = [
    "Head",
    "JobName",
    "Noted",
    "Older",
    "Restoring",
    "TimeStamp",
    "back_up",
    "check_lines",
    "check_stamps",
    "checked_public",
    "export_lines",
    "head_of",
    "is_not_ours",
    "kept_jobs",
    "look_at",
    "look_at_restoring",
    "note",
    "noted",
    "opened_backup",
    "own_signer",
    "read_heads",
    "rename",
    "restore",
    "sources",
    "stamp_journal",
    "take_over",
]
