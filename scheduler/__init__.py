"""Joint-trench scheduler: from a described site to a proved, audited plan."""

__version__ = "0.1.0"
