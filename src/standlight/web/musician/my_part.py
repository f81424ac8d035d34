"""My part: what is due, the recorder, what came back."""

from __future__ import annotations

urlpatterns: list = []
