"""What README and DEVELOPERS say of commands, scripts and modules holds on the code."""

import re
import shlex
from pathlib import Path

import pytest
import typer

from cohort.cli import build, main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
MAP = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TOO_LONG = ("newsletter", "--from")  # a fit each: tests/cli/test_club.py makes the page


def commands() -> set[str]:
    return set(typer.main.get_command(build()).commands)


def season() -> list[str]:
    block = re.search(r"```\n(cohort begin.*?)```", README, re.DOTALL)
    return block.group(1).strip().splitlines()


def test_readme_names_every_command_and_no_other():
    table = set(re.findall(r"^\| `(\w+)` \|", README, re.MULTILINE))
    assert table == commands()


def test_readme_names_every_script_and_no_other():
    named = set(re.findall(r"`(?:analyses/)?(\w+\.py)`", README))
    assert named == {path.name for path in (ROOT / "analyses").glob("*.py")}


def test_the_map_names_every_module_and_no_other():
    drawn = re.search(r"```\n(base .*?)```", MAP, re.DOTALL).group(1)
    words = {w for line in drawn.splitlines() for w in line[:39].split()}
    there = {p.stem for p in (ROOT / "cohort").iterdir() if p.suffix == ".py" or p.is_dir()}
    there -= {"__init__", "__main__", "__pycache__", "py"}
    assert there - words == set()
    assert words - there == set()


def test_the_season_of_the_readme_runs(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    ran = 0
    for line in season():
        if any(word in line for word in TOO_LONG):
            continue
        with pytest.raises(SystemExit) as end:
            main(shlex.split(line)[1:])
        told = capsys.readouterr()
        assert end.value.code == 0, f"{line}\n{told.err}"
        assert [word for word in ("WARNING", "ERROR") if word in told.out + told.err] == [], line
        ran += 1
    assert ran >= 7


def test_every_option_of_the_readme_is_known():
    known = typer.main.get_command(build()).commands
    for line in season():
        words = shlex.split(line)
        command = known[words[1]]
        if hasattr(command, "commands"):
            command = command.commands[words[2]]
        options = {opt for p in command.params for opt in p.opts}
        assert {w for w in words if w.startswith("--")} <= options, line


def test_no_module_is_long():
    long = {
        str(path.relative_to(ROOT)): n
        for path in (ROOT / "cohort").rglob("*.py")
        if (n := len(path.read_text("utf-8").splitlines())) > 400
    }
    assert long == {}


def test_the_words_of_the_model_are_those_of_the_code():
    from cohort.likelihood import layout
    from cohort.likelihood.predictor import Common, Founding, Own
    from cohort.model.parameters import TABLE

    rows = (
        re.search(r"## Words of the model\n\n(.*?)\n\n", MAP, re.DOTALL).group(1).splitlines()[2:]
    )
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    posterior = {name for row in cells for name in re.findall(r"`(\w+)`", row[2])}
    compiled = {name for row in cells for name in re.findall(r"`(\w+)`", row[3])}
    assert posterior <= set(TABLE)
    fields = {*Founding._fields, *Common._fields, *Own._fields}
    assert {name for name in compiled if name.islower()} <= fields
    assert all(hasattr(layout, name) for name in compiled if name.isupper())
    assert set(Founding._fields) <= compiled  # all a founding lives by is explained
