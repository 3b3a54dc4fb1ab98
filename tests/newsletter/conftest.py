"""Invented studies, made once per session, and a browser."""

from __future__ import annotations

import os

import made
import pytest
from browsing import CHROMIUM, QUIET


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


@pytest.fixture(scope="module")
def browser():
    """A running Chromium; skipped with its reason where there is none."""
    if not CHROMIUM:
        if os.environ.get("COHORT_ALL_PROGRAMS"):
            pytest.fail("the program chromium is missing, and none may be here")
        pytest.skip("needs the program chromium, which is not on this machine")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as running:
        chromium = running.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield chromium
        chromium.close()
