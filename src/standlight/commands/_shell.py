"""Opening the shell from the command line: Django set up once, the database brought up to date."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

SETTINGS_MODULE = "standlight.web.settings"


def open_shell() -> None:
    """Set Django up for this process; safe to repeat."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", SETTINGS_MODULE)
    # Before numpy comes: on matrices as small as ours, more threads wait for each other.
    for library in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(library, "1")
    import django

    django.setup()


def bring_up_to_date() -> bool:
    """Apply migrations that are new since the last start; True when there were any.

    Asking Django costs a second, so the digest of the migration files is kept
    beside the database and asked first.
    """
    from django.core.management import call_command

    from standlight.web.settings_table import data_folder

    marker = data_folder() / "migrated"
    digest = _migrations_digest()
    database = data_folder() / "standlight.sqlite3"
    if database.exists() and marker.exists() and marker.read_text() == digest:
        return False
    data_folder().mkdir(parents=True, exist_ok=True)
    call_command("migrate", verbosity=0, interactive=False)
    marker.write_text(digest)
    return True


def _migrations_digest() -> str:
    """One digest of every migration file of every installed app."""
    from django.apps import apps

    digest = hashlib.sha256()
    for app in apps.get_app_configs():
        for file in sorted(Path(app.path).glob("migrations/*.py")):
            digest.update(f"{app.label}/{file.name}\n".encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()
