"""Which activity waits for which, as a graph."""

from __future__ import annotations

from collections.abc import Iterable

import networkx as nx

from scheduler.network.kept_behind import KeptBehind
from scheduler.network.model import Hold, Link


def order_of(
    activities: Iterable[str], links: Iterable[Link], holds: Iterable[Hold], kept_behind: Iterable[KeptBehind] = ()
) -> nx.DiGraph[str]:
    """Return a directed graph from each activity to those that wait for it, or follow it, by links and holds.

    Links that only say `at most` are left out: they make nothing wait.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(activities)
    graph.add_edges_from((link.before, link.after) for link in links if not link.at_most)
    graph.add_edges_from((rule.before, rule.after) for rule in kept_behind)
    graph.add_edges_from((hold.look, gate) for hold in holds for gate in hold.gates)
    return graph
