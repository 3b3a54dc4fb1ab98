"""Chromium for the tests of the page."""

from __future__ import annotations

import os
import shutil

import pytest

CHROMIUM = os.environ.get("COHORT_CHROMIUM") or shutil.which("chromium") or ""
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-quic",
         "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip


def opened(browser, folder, name, width, scheme="light"):
    """A page of a folder: the page, what it said and asked for, and its context (to be closed)."""
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=scheme, java_script_enabled=True
    )
    page = context.new_page()
    seen = {"console": [], "requests": []}
    page.on("console", lambda message: seen["console"].append(message.text))
    page.on("pageerror", lambda error: seen["console"].append(str(error)))
    page.on("request", lambda request: seen["requests"].append(request.url))
    page.goto((folder / name).as_uri())
    return page, seen, context


@pytest.fixture(scope="module")
def browser():
    """A running Chromium; skipped with its reason where there is none."""
    if not CHROMIUM:
        if os.environ.get("COHORT_ALL_PROGRAMS"):
            pytest.fail("the program chromium is missing, and none may be here")
        pytest.skip("needs the program chromium, which is not on this machine")
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="it drives Chromium; in the group test of pyproject.toml"
    )
    with playwright.sync_playwright() as running:
        chromium = running.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield chromium
        chromium.close()
