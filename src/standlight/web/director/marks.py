"""Marks: a marking period."""

from __future__ import annotations

urlpatterns: list = []
