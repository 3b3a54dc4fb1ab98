"""A writer killed right before each of its steps: the folder is whole, old or new."""

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="kills children it has forked")
SCRIPT = Path(__file__).parent / "killed.py"
OLD, NEW = ["old", "old"], ["new", "new"]


def trials(how: str, place: Path) -> list[list[str]]:
    """What lay in the folder after each kill: at once, and after a reader came."""
    ran = subprocess.run(
        [sys.executable, str(SCRIPT), how, str(place)], capture_output=True, text=True, timeout=300
    )
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a step that Linux alone has")
def test_the_folder_is_whole_at_every_moment(tmp_path):
    found = trials("exchange", tmp_path)
    assert len(found) > 30
    assert {tuple(pair) for pair in found} == {tuple(OLD), tuple(NEW)}


def test_a_new_folder_is_there_with_all_its_files_or_not_at_all(tmp_path):
    found = trials("new folder", tmp_path)
    assert len(found) > 20
    assert {tuple(pair) for pair in found} == {tuple(OLD), tuple(NEW)}


def test_by_two_renames_a_reader_mends_the_moment_between(tmp_path):
    found = Counter(map(tuple, trials("two renames", tmp_path)))
    assert found.pop(("away", "new")) == 1
    assert set(found) == {tuple(OLD), tuple(NEW)}


@pytest.mark.parametrize("how", ["one by one", "another disk", "added"])
def test_by_one_file_after_another_a_reader_mends_what_is_half_done(how, tmp_path):
    found = Counter(map(tuple, trials(how, tmp_path)))
    assert sum(found.values()) > 50
    assert {after for _, after in found} == {"old", "new"}
    assert ("mixed", "old") not in found  # what was begun is finished
    assert ("mixed", "new") in found
