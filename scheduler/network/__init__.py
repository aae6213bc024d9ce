"""The network: activities, and every rule that binds their dates, each with its reason."""

from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.network.parties import Party, parties_of

__all__ = [
    "Kind",
    "Network",
    "Party",
    "parties_of",
]
