"""Serving the dashboard to phones: who is known, how, and what they may write."""
