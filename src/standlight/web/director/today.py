"""Today: what the next rehearsals need, what waits."""

from __future__ import annotations

urlpatterns: list = []
