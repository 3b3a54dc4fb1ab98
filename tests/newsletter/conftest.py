"""Invented studies, made once per session."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "figures"))

import made


@pytest.fixture(scope="session")
def demo():
    return made.material()


@pytest.fixture(scope="session")
def make():
    return made.material


@pytest.fixture(scope="session")
def written(demo, tmp_path_factory):
    """Folder with the whole page of the invented study, written once."""
    from cohort.newsletter import write_newsletter

    out = tmp_path_factory.mktemp("page")
    write_newsletter(demo, out)
    return out
