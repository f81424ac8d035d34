"""Every setting a school may change, as one table: name, default, sentence.

Each is read from the environment under its name. The manual repeats the table,
and a test holds the two together.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

PROJECT_ROOT = Path(__file__).resolve().parents[3]
"""The checkout: the folder that holds ``src``."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its environment ``name``, ``default`` text and a ``sentence``."""

    name: str
    default: str
    sentence: str

    def read(self) -> str:
        """The value in force, as text."""
        return os.environ.get(self.name, self.default)


SETTINGS = (
    Setting("STANDLIGHT_DATA", "var", "Folder of the database, the kept files and the secret key."),
    Setting(
        "STANDLIGHT_HOST", "127.0.0.1", "Address the pages are served on; loopback by default."
    ),
    Setting("STANDLIGHT_PORT", "8640", "Port the pages are served on."),
    Setting(
        "STANDLIGHT_NAMES",
        "localhost,127.0.0.1,[::1]",
        "Host names the pages answer to, separated by commas.",
    ),
    Setting(
        "STANDLIGHT_SECURE",
        "no",
        "yes behind https: cookies are then sent over https only.",
    ),
    Setting("STANDLIGHT_WORKERS", "2", "How many takes are read at the same time."),
    Setting(
        "STANDLIGHT_LEASE_SECONDS",
        "60",
        "An errand unfinished after this long is given to another worker; at least 10.",
    ),
    Setting("STANDLIGHT_DEMO", "yes", "no starts an empty programme instead of the invented one."),
    Setting("STANDLIGHT_TIME_ZONE", "UTC", "Time zone of due days, such as America/Chicago."),
    Setting(
        "STANDLIGHT_KEEP_TAKES_DAYS",
        "400",
        "After this many days the sound of a take is removed; levels and answers stay.",
    ),
    Setting("STANDLIGHT_DEBUG", "no", "yes shows programming errors in full; never at a school."),
)
"""The whole table, in the order of the manual."""


def setting(name: str) -> str:
    """The value of the setting ``name``; raises ``KeyError`` for a name not in the table.

    >>> setting("STANDLIGHT_WORKERS").isdigit()
    True
    """
    for row in SETTINGS:
        if row.name == name:
            return row.read()
    raise KeyError(name)


def data_folder() -> Path:
    """Where everything that must be backed up lives; relative paths count from the checkout."""
    return (PROJECT_ROOT / setting("STANDLIGHT_DATA")).resolve()
