"""Folder: pieces, their parts, who plays which."""

from __future__ import annotations

urlpatterns: list = []
