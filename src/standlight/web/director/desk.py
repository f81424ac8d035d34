"""Desk: hear takes, give levels, answer."""

from __future__ import annotations

urlpatterns: list = []
