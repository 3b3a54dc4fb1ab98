"""What the club's commands say of a sheet that lies in the study and is not read."""

import contextlib
import io

import pytest

from cohort.cli import main

FOUNDINGS = "founding,genus,started,queens,keeper\nK2-01,Lasius,2025-07-04,1,K2\n"
LOOKS = "founding,date,queens_alive,workers\nK2-01,2025-07-14,1,0\nK2-01,2025-09-01,1,3\n"


@pytest.mark.parametrize("command", ["compare", "newsletter"])
def test_a_sheet_that_is_not_read_is_told_on_standard_output(command, tmp_path):
    study = tmp_path / "study"
    study.mkdir()
    (study / "foundings.csv").write_text(FOUNDINGS, "utf-8")
    (study / "checks.csv").write_text(LOOKS, "utf-8")
    (study / "Anna_checks_final.csv").write_text(LOOKS, "utf-8")
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.raises(SystemExit),
    ):
        main([command, str(study), "--out", str(tmp_path / "out"), "--quiet"])
    lines = [line for line in out.getvalue().splitlines() if line.startswith("Not read:")]
    assert len(lines) == 1
    assert "Anna_checks_final.csv" in lines[0]
    assert "call it checks-K2-Anna-final.csv" in lines[0]
    assert "Not read" not in err.getvalue()
