"""Playing checks: a passage for every part, published, printed, launched."""

from __future__ import annotations

urlpatterns: list = []
