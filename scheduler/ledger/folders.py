"""The user's own folders: one for what the program keeps, another for the key it signs with."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_config_path, user_data_path

HOME_VARIABLE = "JOINTTRENCH_HOME"
"""Names a folder in place of both, such as for a test or a second user."""


def data_folder() -> Path:
    """Return the folder for jobs, their site files and their journals; it may not be there yet."""
    home = os.environ.get(HOME_VARIABLE)
    return Path(home) / "data" if home else user_data_path("jointtrench", appauthor=False)


def key_folder() -> Path:
    """Return the folder for the signing key; it may not be there yet."""
    home = os.environ.get(HOME_VARIABLE)
    return Path(home) / "keys" if home else user_config_path("jointtrench", appauthor=False)


def job_folder(job: str) -> Path:
    """Return the folder of one job by its id."""
    return data_folder() / "jobs" / job
