"""The site as it stands at a moment: what the journal says happened, and what is left of the job by that."""

from scheduler.network.parties import parties_of
from scheduler.situation.added_by_events import last_words

__all__ = ["last_words", "parties_of"]
