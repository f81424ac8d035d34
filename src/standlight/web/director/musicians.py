"""Musicians: each ensemble by section; roster and sign-in cards."""

from __future__ import annotations

urlpatterns: list = []
