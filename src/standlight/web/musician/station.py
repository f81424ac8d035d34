"""Station: one shared computer, card after card."""

from __future__ import annotations

urlpatterns: list = []
