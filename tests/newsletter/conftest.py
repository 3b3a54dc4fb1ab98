"""Invented studies, made once per session, and a browser."""

from __future__ import annotations

import made
import pytest
from browsing import browser

__all__ = ["browser"]


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
