"""Invented studies, made once per session."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import made


@pytest.fixture(scope="session")
def demo():
    return made.material()


@pytest.fixture(scope="session")
def make():
    return made.material
