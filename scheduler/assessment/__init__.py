"""A plan measured against the published schedule-assessment checks."""
