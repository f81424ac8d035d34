"""Everything of one musician as one ZIP file: ``everything.json`` and the sounds as kept."""

from __future__ import annotations

import json
import zipfile
from typing import IO

from django.core.serializers.json import DjangoJSONEncoder

from standlight.programme import store
from standlight.programme.queries.musician_record import MusicianRecord

ROWS_NAME = "everything.json"
"""The file of rows beside the folder of sounds."""


def write_record(record: MusicianRecord, out: IO[bytes]) -> None:
    """Write ``record`` into ``out``; a sound whose file is gone is told among the rows.

    Sounds are copied from the store in pieces, never held whole, and stored without packing:
    they are packed already.
    """
    gone = []
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for sound in record.sounds:
            try:
                archive.write(store.path_of(sound.digest), sound.name)
            except FileNotFoundError:
                gone.append(sound.name)
        rows = {**record.rows, "sounds_whose_file_is_gone": gone}
        text = json.dumps(rows, cls=DjangoJSONEncoder, ensure_ascii=False, indent=1)
        archive.writestr(ROWS_NAME, text, zipfile.ZIP_DEFLATED)
