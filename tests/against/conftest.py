"""Let these tests use the one-line studies, and R with its package survival."""

import io
import shutil
import subprocess

import pandas as pd
import pytest


@pytest.fixture(scope="session")
def survival():
    """A function that runs R code on a frame `d` and reads the CSV it writes."""
    if shutil.which("Rscript") is None:
        pytest.skip("needs Rscript, which is not installed here")
    call = ["Rscript", "-e", "library(survival)"]
    if subprocess.run(call, capture_output=True, check=False).returncode:
        pytest.skip("needs R's package survival, which is not installed here")

    def run(frame, code):
        script = f'suppressMessages(library(survival)); d <- read.csv(file("stdin")); {code}'
        result = subprocess.run(
            ["Rscript", "-e", script],
            input=frame.to_csv(index=False),
            capture_output=True,
            text=True,
            check=True,
        )
        return pd.read_csv(io.StringIO(result.stdout))

    return run
