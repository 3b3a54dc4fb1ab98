"""Chromium for the tests of the page."""

from __future__ import annotations

import os
import shutil

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
