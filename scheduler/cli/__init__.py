"""The command line."""

from scheduler.cli.main import main

__all__ = ["main"]
