"""Measurements are run by hand, never by the tests: a busy machine would decide what passes."""

from __future__ import annotations

collect_ignore_glob = ["*.py"]
