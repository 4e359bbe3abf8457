from __future__ import annotations

import os

import pytest


@pytest.fixture(autouse=True)
def _no_waiting_for_the_disk(monkeypatch):
    """Nothing here cuts the power, so waiting until the disk has really written only takes time."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)
