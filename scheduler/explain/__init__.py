"""Why: critical path, floats, driving reasons, conflicts."""
