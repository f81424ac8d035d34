"""Live at the stand: levels without a recording."""

from __future__ import annotations

urlpatterns: list = []
