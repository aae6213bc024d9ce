"""The journal of a live job: an append-only record, its state at any moment, and its hold points."""
