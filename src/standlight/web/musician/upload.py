"""Takes on their way: numbered pieces, safe to repeat."""

from __future__ import annotations

urlpatterns: list = []
