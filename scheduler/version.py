"""The version of this program, for whoever must say it without needing anything else."""

__version__ = "0.1.0"
