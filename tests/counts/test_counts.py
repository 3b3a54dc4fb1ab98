"""Counts that must not grow by more than a tenth: modules, bytes read, gradients of a fit.

What is counted, and how it is recorded anew, says ``counted.py``. Each count is also tried with a
fault that it has to see.
"""

import json
from functools import cache

import pytest
from counted import COMMANDS, MORE, RECORD, SEEDS, command, gradients

KNOWN = json.loads(RECORD.read_text("utf-8"))
ANEW = "Mend it, or if it is meant: python tests/counts/counted.py"


@cache
def found(name):
    return command(COMMANDS[name])


def grown(counts, known):
    """Names of what is more than a tenth above what is known."""
    return [name for name, most in known.items() if counts[name] > MORE * most]


def plain(name, *keys):
    return {key: KNOWN["commands"][name][key] for key in keys}


@pytest.mark.parametrize("name", ["--help", "audit"])
def test_a_light_command_loads_no_more_modules(name):
    known = plain(name, "all", "ours")
    assert grown(found(name), known) == [], (found(name), known, ANEW)
    new = set(found(name)["packages"]) - set(KNOWN["commands"][name]["packages"])
    assert new - {"typing_extensions"} == set(), ANEW  # Python 3.12 lacks some of what is in it


def test_modules_that_are_loaded_beside_are_seen():
    heavy = command(COMMANDS["--help"], first="import cohort.audit, jinja2")
    assert grown(heavy, plain("--help", "all", "ours")) == ["all", "ours"]
    assert "jinja2" in set(heavy["packages"]) - set(KNOWN["commands"]["--help"]["packages"])


@pytest.mark.parametrize("name", ["audit", "compare"])
def test_a_command_reads_each_sheet_no_more_often(name):
    known = plain(name, "study", "beside_code")
    assert known["study"] == 1
    assert grown(found(name), known) == [], (found(name), known, ANEW)
    # a sheet that is read once more is seen
    again = {**found(name), "study": found(name)["study_if_read_again"]}
    assert grown(again, known) == ["study"]


def test_a_fit_takes_no_more_gradients():
    """The spread of one seed is 2.7 %, of three 1.5 %: a tenth is six of these."""
    known = KNOWN["gradients"]
    assert known["sd"] < 0.04 * known["mean"]
    most = MORE * known["mean"] * len(SEEDS)
    assert abs(known["sum"] - known["mean"] * len(SEEDS)) < 0.05 * most
    count = sum(gradients())
    assert count <= most, (count, known, ANEW)
    # smaller steps than are needed are seen, even with one seed
    (small,) = gradients(SEEDS[:1], accept=0.97)
    assert small > MORE * known["mean"]
