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


PLAIN = (
    "by_hand/test_checks_by_group.py",
    "by_hand/test_readings_of_a_colony.py",
    "forecast/test_conditional.py",
    "forecast/test_due_rules.py",
    "forecast/test_forecast_warmth.py",
    "likelihood/test_callbacks.py",
    "likelihood/test_gradient.py",
    "likelihood/test_machine_code.py",
    "likelihood/test_packing.py",
    "likelihood/test_predictor.py",
    "likelihood/test_threads.py",
    "likelihood/test_transition_probabilities.py",
    "likelihood/test_who_asks_the_predictor.py",
    "likelihood/test_warm_edges.py",
    "model/test_cut_short.py",
    "model/test_density.py",
    "model/test_gate.py",
    "model/test_levels.py",
    "model/test_parameters.py",
    "model/test_own_draws.py",
    "model/test_priors_graph.py",
    "model/test_small_fit.py",
    "model/test_warm_up.py",
    "model/test_model_in_pymc.py",
    "model_checks",
    "outcomes/test_long_table.py::test_own_share_by_hand",
)
"""Folders, files and tests that try compiled code line by line, quickly without the compiler."""
COMPILED = (
    "test_a_keeper_of_whom_the_model_knows_nothing_is_found",
    "test_a_late_entry_is_drawn_given_the_state_at_entry",
    "test_a_model_without_rivalry_is_found_out",
    "test_a_tail_of_counts_is_carried_on",
    "test_chances_at_other_strengths_are_those_of_fits_with_scaled_priors",
    "test_code_is_found_again",
    "test_damaged_code_is_thrown_away_and_compiled_again",
    "test_false_alarms_come_in_one_study_of_twenty",
    "test_fifteen_nodes_of_frailty_are_enough",
    "test_first_workers_seen_make_the_same_curve_as_the_table_of_curves",
    "test_most_draws_are_sober",
    "test_of_a_fit_as_the_comparison_asks_for_them",
    "test_replicates_of_the_model_are_hardly_flagged_and_their_tail_areas_are_even",
    "test_rows_bear_the_truth_and_the_columns_of_the_table",
    "test_seasons_made_event_by_event_look_like_their_replicates",
    "test_slopes_of_what_foundings_do_not_share",
    "test_small_cells_meet_an_adaptive_integral",
    "test_the_day_of_the_count_is_allowed_for",
    "test_the_fitting_kernel_is_near_the_reference",
    "test_the_priors_lean_to_groups_per_founding_and_to_singles_per_queen",
    "test_this_numba_takes_our_way_of_keeping_code",
    "test_where_code_cannot_be_kept_the_next_place_takes_it_and_else_it_is_said",
    "test_without_counts_the_posterior_is_the_prior",
)
"""Tests in there that ask for the compiler, or would take too long without."""


def pytest_configure(config: pytest.Config) -> None:
    """``pytest -m plain`` does without the compiler, which has to be said before numba is there.

    Tests that run side by side are told a width of the screen; no keeper's terminal tells one so.
    """
    os.environ.pop("COLUMNS", None)
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
        named = f"{place}::{item.name}".startswith(PLAIN)
        if named and not item.name.startswith(COMPILED):
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
