"""Invented studies, made once per session."""

from __future__ import annotations

import made
import pytest


@pytest.fixture(scope="session")
def demo():
    return made.material()


@pytest.fixture(scope="session")
def make():
    return made.material
