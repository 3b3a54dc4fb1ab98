"""The program as it is installed: version, demo season, JSON, completion, nothing heavy loaded."""

import json
import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest
from typer.testing import CliRunner

import cohort
from cohort.base.errors import StudyError
from cohort.cli import build
from cohort.desk import demo

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
HEAVY = ("pymc", "pytensor", "nutpie", "arviz", "arviz_stats", "numba", "lifelines", "matplotlib")


def run(*words: str):
    return CliRunner().invoke(build(), list(words))


def python(*words: str, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=False, cwd=ROOT,
        env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(ROOT), **env},
    )  # fmt: skip


def test_the_version_is_that_of_the_package():
    said = python("-m", "cohort", "--version")
    assert said.returncode == 0, said.stderr
    assert said.stdout == f"founding-cohort {version('founding-cohort')}\n"
    assert version("founding-cohort") == PROJECT["project"]["version"]


def test_completion_knows_commands_and_options():
    told = python("-m", "cohort", _COHORT_COMPLETE="complete_bash", COMP_WORDS="cohort au",
                  COMP_CWORD="1")  # fmt: skip
    assert told.stdout.split() == ["audit"]
    assert "--install-completion" in run("--help").output


def test_the_demo_is_that_of_the_sources(tmp_path):
    said = run("demo", str(tmp_path / "mine"))
    assert said.exit_code == 0, said.output
    mine, source = tmp_path / "mine", ROOT / "data" / "demo"
    assert {p.name for p in mine.iterdir()} == {p.name for p in source.iterdir()}
    for path in source.iterdir():
        assert (mine / path.name).read_bytes() == path.read_bytes()
    assert "Never quote" in said.output
    assert "Local law and licensed advice come first" in said.output
    assert cohort.read_study(mine) == cohort.read_study(source)


def test_the_second_year_is_that_of_the_sources(tmp_path):
    said = run("demo", str(tmp_path / "mine"), "--second-year")
    assert said.exit_code == 0, said.output
    assert "two invented seasons" in said.output
    source = ROOT / "data" / "demo-second-year"
    assert {p.name for p in (tmp_path / "mine").iterdir()} == {p.name for p in source.iterdir()}


def test_the_demo_writes_over_nothing(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    said = run("demo", str(tmp_path))
    assert isinstance(said.exception, StudyError)
    assert "is not empty; name a new folder" in str(said.exception)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
    said = run("demo", str(tmp_path / "mine.txt"))
    assert "is a file" in str(said.exception)


def test_an_installation_without_the_demo_says_so(monkeypatch, tmp_path):
    monkeypatch.setattr(demo, "_PLACES", (tmp_path,))
    with pytest.raises(StudyError, match="missing from this installation"):
        demo.write_demo(tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_the_wheel_takes_the_demo_from_its_one_source():
    taken = PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert taken == {
        "data/demo": f"cohort/{demo._PLACES[0].name}",
        "data/demo-second-year": f"cohort/{demo._SECOND[0].name}",
        "data/findings.csv": "cohort/published/findings.csv",
    }
    assert not (ROOT / "cohort" / "published" / "findings.csv").exists()
    assert not demo._PLACES[0].exists()  # nobody keeps a second copy among the sources
    assert (ROOT / "cohort" / "py.typed").is_file()
    assert "Typing :: Typed" in PROJECT["project"]["classifiers"]
    readme = (ROOT / "README.md").read_text("utf-8")
    assert f"version: {PROJECT['project']['version']}" in readme
    assert PROJECT["project"]["authors"][0]["name"] in readme


def test_audit_as_json(folder):
    folder.put("checks.csv", "+K2-02,2026-07-15,4,0\n")
    said = run("audit", str(folder.path), "--today", "2026-07-15", "--json")
    assert said.exit_code == 1
    told = json.loads(said.stdout)
    assert told["counts"]["error"] == 1
    assert (told["foundings"], told["looks"]) == (2, 5)
    assert told["files"] == ["checks.csv", "foundings.csv"]
    first = told["findings"][0]
    assert first["rule"] == "count-rises"
    assert (first["file"], first["row"], first["column"]) == ("checks.csv", 6, "queens_alive")
    assert first["remedy"]


def test_letters_beside_json_leave_it_readable(folder, tmp_path):
    said = run("audit", str(folder.path), "--today", "2026-07-15", "--json", "--letters",
               str(tmp_path / "letters"))  # fmt: skip
    assert json.loads(said.stdout)["counts"] == {"error": 0, "warning": 0, "note": 0}


def test_compare_as_json(folder, tmp_path):
    folder.put("foundings.csv", "founding,genus,started,queens,keeper\n"
               "K2-01,Lasius,2026-07-04,1,K2\nK2-02,Lasius,2026-07-04,1,K2\n")  # fmt: skip
    folder.put("checks.csv", "founding,date,queens_alive,workers\nK2-01,2026-07-08,1,0\n")
    said = run("compare", str(folder.path), "--out", str(tmp_path / "out"), "--json")
    assert said.exit_code == 1  # nothing to compare with: not settled
    told = json.loads(said.stdout)
    assert told["settled"] is False
    assert "no group to compare with" in told["reasons"][0]
    assert told["verdicts"] == []
    assert told["folder"] == str(tmp_path / "out")
    assert (told["horizon"], told["level"], told["foundings"]) == (180, 0.9, 2)


LIGHT = {
    "--help": ["--help"],
    "--version": ["--version"],
    "audit": ["audit", "data/demo"],
    "audit --json": ["audit", "data/demo", "--json"],
    "demo": ["demo", "NEW"],
}


@pytest.mark.parametrize("words", LIGHT.values(), ids=list(LIGHT))
def test_light_commands_stay_light(words, tmp_path):
    given = [str(tmp_path / "new") if word == "NEW" else word for word in words]
    code = (
        "import sys\nfrom cohort.cli import main\n"
        f"try:\n    main({given!r})\nexcept SystemExit:\n    pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    )
    said = python("-c", code)
    assert said.stderr.strip().splitlines()[-1] == "[]"


def test_the_package_loads_nothing_by_itself():
    code = "import sys, cohort; print([m for m in ('numpy', 'pandas') if m in sys.modules])"
    assert python("-c", code).stdout.strip() == "[]"
