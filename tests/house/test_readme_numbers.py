"""Numbers and pictures of the README are what a command, a record or a file says they are."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from cohort.cli import main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
FLAT = " ".join(README.split())
RECORDS = ROOT / "tests" / "slow" / "results"


def told(pattern: str) -> tuple[int, ...]:
    """Numbers the README tells in one place; the place must be there."""
    found = re.findall(pattern, FLAT)
    assert len(found) == 1, pattern
    groups = found[0] if isinstance(found[0], tuple) else (found[0],)
    return tuple(int(group.replace(",", "")) for group in groups)


def test_more_tests_are_collected_than_the_readme_says(request):
    (least,) = told(r"tests in a fresh clone: more than ([\d,]+)")
    count = len(request.session.items)
    if count <= least:  # some of the files were asked for: collect the whole suite beside
        words = [
            sys.executable,
            "-m",
            "pytest",
            "-n",
            "0",
            "--collect-only",
            "-q",
            str(ROOT / "tests"),
        ]
        out = subprocess.run(words, capture_output=True, text=True, check=True, cwd=ROOT).stdout
        count = sum(int(n) for n in re.findall(r"^tests\S+: (\d+)$", out, re.MULTILINE))
    assert least < count < 2 * least


def test_plan_lists_so_many_ways_and_prints_so_many(capsys):
    ways, printed = told(r"`plan` compares (\d+) ways to divide nine queens, .*? prints (\d+) of")
    line = next(part for part in README.splitlines() if part.startswith("cohort plan --genus"))
    assert "--queens 9" in line
    words = shlex.split(line)[1:]
    with pytest.raises(SystemExit):
        main([*words, "--json"])
    values = json.loads(capsys.readouterr().out)
    assert len(values["divisions"]) == ways
    assert values["largest"] == 4  # "none with more than four together"
    assert max(max(d["division"]) for d in values["divisions"]) == 4
    with pytest.raises(SystemExit):
        main(words)
    out = capsys.readouterr().out
    rows = [r for r in out.splitlines() if re.search(r"\d \(.* to .*\).* %$", r)]
    assert len(rows) == printed
    assert f"{ways - printed} more divisions" in out


def test_every_picture_is_there_and_a_picture():
    named = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert set(named) == {f"data/pictures/{p.name}" for p in (ROOT / "data/pictures").iterdir()}
    for name in named:
        with Image.open(ROOT / name) as picture:
            picture.load()
            assert picture.width > 1000


def test_the_season_chart_is_the_one_this_code_draws(tmp_path):
    """Small differences of a machine's own way to draw are allowed, others are not."""
    from cohort.figures import ink
    from cohort.figures.labels import ENGLISH
    from cohort.figures.material import Material
    from cohort.figures.season import draw_season, season_frame
    from cohort.history import history
    from cohort.results import Results
    from cohort.sheets import written
    from cohort.study import read_study

    study = read_study(ROOT / "data" / "demo")
    nothing = written.empty("comparisons")
    results = Results(nothing, nothing, nothing, nothing, {}, {})
    frame = season_frame(Material(results, history(study), study))
    with ink.style():
        paths = ink.save(draw_season(frame, 175, ENGLISH), tmp_path / "season-175", "season", "")
    mine = next(path for path in paths if path.suffix == ".png")
    with Image.open(mine) as a, Image.open(ROOT / "data/pictures/season-175.png") as b:
        assert abs(a.width - b.width) + abs(a.height - b.height) <= 4
        other = b.convert("L").resize(a.size)
        gap = np.abs(np.asarray(a.convert("L"), float) - np.asarray(other, float))
    assert gap.mean() < 1.5, "renew it: data/pictures/season-175.png from figures/ of the demo"


def test_calibration_is_told_as_recorded():
    def record(name: str) -> dict:
        return json.loads((RECORDS / f"{name}.json").read_text("utf-8"))

    plain, harsh = record("calibration"), record("calibration-harsh")
    mutant = record("calibration-dated-at-the-look")
    studies, quantities, coverage = told(
        r"Calibration: (\d+) simulated studies .*?: no quantity of (\d+) outside its band, "
        r"pooled coverage of 90 % intervals \.(\d+), 1 fit failed its gate in the end"
    )
    assert (studies, quantities) == (plain["studies"], plain["quantities"])
    assert round(1000 * plain["pooled_coverage"]) == coverage
    assert (plain["outside_bands"], plain["failed"]) == ([], 1)
    large = record("calibration-large")
    assert told(
        r"(\d+) studies of 200 to 400 foundings: none outside, pooled coverage \.(\d+)"
    ) == (
        large["studies"],
        round(1000 * large["pooled_coverage"]),
    )
    assert (large["outside_bands"], large["failed"]) == ([], 0)
    studies, coverage, failed, read, out = told(
        r"harsher task \((\d+) studies.*?pooled coverage \.(\d+), but (\d+) fits failed.*?"
        r"(\d+) studies of that task read by a mutant that dates losses at the look: (\d+)"
    )
    assert (studies, failed) == (harsh["studies"], harsh["failed"])
    assert (harsh["outside_bands"], round(1000 * harsh["pooled_coverage"])) == ([], coverage)
    assert (read, out) == (mutant["studies"], len(mutant["outside_bands"]))
    assert mutant["mutant"] == "dated at the look"


WORLDS = {
    "first workers in two humps": "two-humps",
    "looked into only after losses": "looks-after-losses",
    "good queens put singly, most of them seen mating": "seen-mating-singly",
    "a keeper's shelf dried out for nine days": "bad-week",
    "empty containers not written down": "empties-forgotten",
    "losses entered as accidents": "losses-called-accidents",
    "queens die faster from late summer on": "cold-autumn",
    "two keepers, one of whom loses many more": "two-keepers",
    "large groups fight, small ones do not": "large-groups-fight",
    "company harms at first and helps later": "company-at-first",
    "unmated queens die first": "unmated-die-first",
    "one queen overlooked in half of the groups": "one-hides",
    "good queens put singly, nothing written down": "good-queens-singly",
}


def test_studies_that_mislead_are_told_as_recorded():
    """All thirteen worlds that were tried stand there, with what was said of them."""
    made = pd.read_csv(RECORDS / "worlds.csv").set_index("world")
    assert set(WORLDS.values()) == set(made.index) - {"clean", "gain-10"}
    for says, world in WORLDS.items():
        (line,) = [part for part in README.splitlines() if part.startswith(f"| {says} |")]
        _, _, flagged, inside, clearly, _ = line.split("|")
        row = made.loc[world]
        assert re.match(r" (\d) of (\d)", flagged).groups() == (
            f"{row['flagged']:.0f}", f"{row['studies']:.0f}",
        )  # fmt: skip
        assert inside.strip() == f"{row['any_seen']:.0f}, {row['count_seen']:.0f}"
        assert re.match(r" (\d)", clearly).group(1) == f"{row['clearly_same']:.0f}"


def test_words_are_told_as_recorded():
    made = pd.read_csv(RECORDS / "words.csv", keep_default_na=False)
    made["count"] = (made["share"] * made["studies"]).round().astype(int)
    columns = (
        {"clearly multi"}, {"leans multi", "expected multi"}, {"open", "same", "none"},
        {"leans single", "expected single"}, {"clearly single"},
    )  # fmt: skip
    said = (made["word"] + " " + made["side"]).str.strip()
    for (world, foundings), part in made.groupby(["world", "foundings"]):
        gain = int(world.removeprefix("gain")) / 100
        counts = [int(part.loc[said[part.index].isin(words), "count"].sum()) for words in columns]
        told_as = " | ".join(str(n) if n else "" for n in counts)
        row = f"| {gain:+.2f} | {foundings} | {part['studies'].iloc[0]} | {told_as} |"
        assert re.sub(" +", " ", row) in re.sub(" +", " ", README), row
        assert sum(counts) == part["studies"].iloc[0]


def test_gains_are_told_as_recorded():
    made = pd.read_csv(RECORDS / "gains.csv")
    made = made[made["foundings"] == 64].set_index("world")
    inside = [f"{made.loc[w, 'any_seen']} of {made.loc[w, 'studies']}"
              for w in ("gain+29", "gain+14", "gain+7", "gain+0", "gain-14")]  # fmt: skip
    assert f"{', '.join(inside[:4])} and {inside[4]}" in FLAT
    assert made.loc[["gain+29", "gain+14", "gain+7", "gain+0", "gain-14"], "studies"].sum() == 100
    assert made["wrong_same"].sum() == 0
    assert made["wrong"].sum() == 1


@pytest.mark.parametrize(
    "gone",
    ["every way to divide", "few, weak", "each number was checked", "counted, not marked",
     "kept and shown", "; no chance of a group stands without it.", "2,447"],
)  # fmt: skip
def test_what_was_not_so_is_gone(gone):
    assert gone not in FLAT


def test_what_the_page_asks_of_a_verdict_is_told():
    from cohort.nonparametric.followed import ENOUGH
    from cohort.verdict.rules import OWN

    assert told(r"at least (\d+) foundings of each way were followed, all kinds") == (ENOUGH,)
    assert told(r"to the last day to which at least (\d+) of each way were followed") == (OWN,)
