"""An edited kernel is a new kernel: its salt changes, and no old machine code is run."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import cohort
from cohort.likelihood.machine_code import KERNELS
from cohort.model.op import kernel_salt

ASK = """
import numpy as np
from cohort.likelihood.founding import losses
from cohort.likelihood.rates import RATES, GRADIENT
rows = np.array([[1.0, 3.0, 2.0, 10.0, 0, 0, 0, 0]])
print(losses(rows, 0, 1, np.full(RATES, 0.01), np.zeros(GRADIENT))[1])
"""


def test_an_edit_of_any_kernel_module_changes_the_salt(tmp_path):
    copies = tuple(tmp_path / folder.name for folder in KERNELS)
    for folder, copy in zip(KERNELS, copies, strict=True):
        shutil.copytree(folder, copy, ignore=shutil.ignore_patterns("__pycache__"))
    assert kernel_salt(copies) == kernel_salt(KERNELS) == kernel_salt()
    for path in (path for copy in copies for path in sorted(copy.glob("*.py"))):
        before = kernel_salt(copies)
        path.write_text(path.read_text("utf-8") + "\n# edited\n", "utf-8")
        assert kernel_salt(copies) != before, path.name


def value_of(package, **env):
    env = os.environ | {"PYTHONPATH": str(package), "PYTHONDONTWRITEBYTECODE": "1"} | env
    if "NUMBA_CACHE_DIR" in env and not env["NUMBA_CACHE_DIR"]:
        env.pop("NUMBA_CACHE_DIR")
    out = subprocess.run(
        [sys.executable, "-c", ASK],
        env=env,
        cwd=package,
        capture_output=True,
        text=True,
        check=True,
    )
    assert out.stderr == ""
    return float(out.stdout)


@pytest.mark.parametrize(
    "elsewhere",
    [False, pytest.param(True, marks=pytest.mark.slow)],
    ids=["beside", "NUMBA_CACHE_DIR"],
)
def test_an_edit_of_a_function_is_seen_by_those_that_call_it(tmp_path, elsewhere):
    """`losses` lies in founding.py and calls `choose` of transition_probabilities.py.

    Only the latter is edited.

    Whatever its time of writing says: a checkout, a copy or an installation may date it back.
    """
    env = {"NUMBA_CACHE_DIR": str(tmp_path / "kept") if elsewhere else ""}
    shutil.copytree(
        Path(cohort.__file__).parent,
        tmp_path / "cohort",
        ignore=shutil.ignore_patterns("__pycache__", "newsletter", "figures", "print"),
    )
    before = value_of(tmp_path, **env)
    assert value_of(tmp_path, **env) == before
    path = tmp_path / "cohort" / "likelihood" / "transition_probabilities.py"
    text, dated = path.read_text("utf-8"), path.stat()
    path.write_text(text.replace("    out = 1.0\n", "    out = 2.0\n", 1), "utf-8")
    assert path.read_text("utf-8") != text
    os.utime(path, ns=(dated.st_atime_ns, dated.st_mtime_ns))
    assert abs(value_of(tmp_path, **env) / before - 2.0) < 1e-9
    path.write_text(text, "utf-8")
    assert value_of(tmp_path, **env) == before
