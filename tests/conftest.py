"""Fixtures that all tests may use.

A test that runs a program outside Python is marked ``needs_program("soffice")`` and is skipped,
with the reason, where the program is missing.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
from pathlib import Path

import hypothesis
import numpy as np
import pytest

# The ordinary run tries the same examples each time; machines differ too much for a deadline.
hypothesis.settings.register_profile("house", deadline=None, derandomize=True, max_examples=100)
hypothesis.settings.load_profile("house")

QUICK = (
    "by_hand",
    "history",
    "nonparametric",
    "plan",
    "pool",
    "published",
    "terms",
    "verdict",
    "warmth",
    "house/test_documents.py",
    "likelihood/test_gradient.py",
    "likelihood/test_predictor.py",
    "model/test_parameters.py",
    "newsletter/test_catalogue.py",
    "outcomes/test_long_table.py",
    "simulate/test_known.py",
    "test_days_followed.py",
    "test_study.py",
    "written/test_tables.py",
)
"""Folders and files that find most of what a change in hand breaks; ``pytest -m quick``."""


PLAIN: tuple[str, ...] = ()


def pytest_configure(config: pytest.Config) -> None:
    """``pytest -m plain`` does without the compiler, which has to be said before numba is there."""
    if config.option.markexpr == "plain":
        os.environ["NUMBA_DISABLE_JIT"] = "1"
        hypothesis.settings.register_profile("plain", hypothesis.settings(), max_examples=10)
        hypothesis.settings.load_profile("plain")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        place = item.path.relative_to(Path(__file__).parent).as_posix()
        if item.get_closest_marker("slow"):
            continue
        if place.startswith(QUICK):
            item.add_marker(pytest.mark.quick)
        if f"{place}::{item.name}".startswith(PLAIN):
            item.add_marker(pytest.mark.plain)


def pytest_runtest_setup(item: pytest.Item) -> None:
    for mark in item.iter_markers("needs_program"):
        for program in mark.args:
            if shutil.which(program) is None:
                if os.environ.get("COHORT_ALL_PROGRAMS"):
                    pytest.fail(f"the program {program} is missing, and none may be here")
                pytest.skip(f"needs the program {program}, which is not on this machine")


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20260704)


@pytest.fixture
def today() -> dt.date:
    """The day on which the small studies of the tests are read."""
    return dt.date(2026, 7, 15)


FOUNDINGS = """\
founding,genus,started,queens,keeper
K2-01,Lasius,2026-07-04,1,K2
K2-02,Lasius,2026-07-04,3,K2
"""
CHECKS = """\
founding,date,queens_alive,workers
K2-01,2026-07-08,1,0
K2-02,2026-07-08,3,0
K2-01,2026-07-14,1,0
K2-02,2026-07-14,3,0
"""


class StudyFolder:
    """A small study without a fault; files are added or replaced by name."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.put("foundings.csv", FOUNDINGS)
        self.put("checks.csv", CHECKS)

    def put(self, name: str, text: str | bytes) -> None:
        """Write a file; text that begins with ``+`` is added to what is there."""
        place = self.path / name
        if isinstance(text, bytes):
            place.write_bytes(text)
        elif text.startswith("+"):
            place.write_text(place.read_text("utf-8") + text[1:], "utf-8")
        else:
            place.write_text(text, "utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> StudyFolder:
    place = tmp_path / "study"
    place.mkdir()
    return StudyFolder(place)
