"""One musician's record: everything in one file, and its removal."""

from __future__ import annotations

import re
from tempfile import TemporaryFile

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from standlight.errors import StandlightError
from standlight.programme.actions.leaving import forget_musician
from standlight.programme.models import Musician
from standlight.programme.queries.musician_record import musician_record
from standlight.programme.record_file import write_record
from standlight.web.access import director_page, seen_or_404


@never_cache
@require_GET
@director_page
def everything(request: HttpRequest, pk: int) -> HttpResponse:
    """All that is kept of a musician in one ZIP file, out of a temporary file."""
    row = seen_or_404(Musician, request, pk=pk)
    record = musician_record(request.user, row)
    # The answer closes it, and a temporary file that is closed is gone.
    out = TemporaryFile()  # noqa: SIM115
    write_record(record, out)
    out.seek(0)
    whose = re.sub(r"[^A-Za-z0-9]+", "-", row.roster_id).strip("-")
    return FileResponse(
        out,
        as_attachment=True,
        filename=f"musician-{whose or row.pk}.zip",
        content_type="application/zip",
    )


@never_cache
@require_POST
@director_page
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove a musician and everything they made, once their roster id is typed."""
    row = seen_or_404(Musician.objects.select_related("account"), request, pk=pk)
    name = row.name
    try:
        forget_musician(request.user, row, request.POST.get("roster_id", ""))
    except StandlightError as slip:
        messages.error(request, f"{slip}.")
        return redirect("musician", pk)
    messages.success(request, f"{name} and everything they made here is removed.")
    return redirect("musicians")
