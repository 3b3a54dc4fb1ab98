"""Many findings kept by column: they read as a tuple would, and take no memory to speak of."""

import datetime as dt
import itertools
import random
import tracemalloc

import numpy as np
import pandas as pd
import pytest

from cohort.audit import audit
from cohort.audit.find import at
from cohort.audit.letters import letters
from cohort.audit.show import counted, grouped, lines
from cohort.base.errors import LEVELS, Finding, SheetError
from cohort.sheets.folder import read_folder
from cohort.sheets.found import Found
from cohort.study import read_study

TODAY = dt.date(2027, 9, 1)


def some(lot: random.Random, count: int) -> list[Finding]:
    return [
        Finding(
            level=lot.choice(LEVELS),
            rule=lot.choice("ab"),
            what=lot.choice(["one", "two"]),
            remedy=lot.choice(["", "mend"]),
            file=lot.choice(["a.csv", "b.csv"]),
            tab=lot.choice(["", "t"]),
            row=lot.randint(0, 5),
            column=lot.choice("xy"),
            founding=lot.choice(["", "K1-01", "K1-02"]),
        )
        for _ in range(count)
    ]


def in_blocks(findings: list[Finding]) -> Found:
    """The same findings as rules tell them: those that share level, rule and column together."""
    parts = []
    for (level, rule, column), group in itertools.groupby(
        findings, lambda f: (f.level, f.rule, f.column)
    ):
        mine = list(group)
        table = pd.DataFrame(
            {name: [getattr(f, name) for f in mine] for name in ("file", "tab", "row", "founding")}
        )
        whats = [f.what for f in mine]
        parts.append(
            at(
                table,
                np.ones(len(mine), dtype=bool),
                level=level,
                rule=rule,
                column=column,
                what=whats[0] if len(set(whats)) == 1 else whats.__getitem__,
                remedy=[f.remedy for f in mine],
            )
        )
    return Found.joined(*parts)


@pytest.mark.parametrize("seed", range(20))
def test_found_reads_as_a_plain_list_does(seed):
    lot = random.Random(seed)
    plain = some(lot, lot.choice([0, 1, 7, 300]))
    found = in_blocks(plain)
    assert list(found) == plain
    assert found == plain
    assert (len(found), bool(found)) == (len(plain), bool(plain))
    assert list(found + plain) == list(plain + found) == plain * 2
    for place in lot.sample(range(len(plain)), min(5, len(plain))):
        assert found[place] == plain[place]
        assert found[place - len(plain)] == plain[place]
        assert list(found[place : place + 4]) == plain[place : place + 4]
    with pytest.raises(IndexError):
        found[len(plain)]
    for name in ("level", "rule", "file", "tab", "row", "column", "founding"):
        assert found.values(name).tolist() == [getattr(f, name) for f in plain]
    for name in ("what", "remedy"):
        assert list(found.texts(name)) == [getattr(f, name) for f in plain]
        texts = tuple(dict.fromkeys(getattr(f, name) for f in plain))
        assert found.different(name, 9) == texts
    for level in LEVELS:
        assert list(found.of_level(level)) == [f for f in plain if f.level == level]
    ranked = sorted(plain, key=lambda f: (LEVELS.index(f.level), f.file, f.tab, f.row, f.column))
    assert list(found.in_order()) == ranked
    assert list(found.without_repeats().in_order()) == list(dict.fromkeys(ranked))
    assert counted(found) == counted(plain)
    assert list(lines(found)) == list(lines(plain))
    assert list(lines(found, every=True)) == list(lines(plain, every=True))
    assert sum(len(group.findings) for group in grouped(found)) == len(plain)


def test_found_is_no_key_and_shows_itself():
    found = in_blocks(some(random.Random(1), 9))
    assert repr(found).startswith("Found([Finding(")
    assert repr(found).endswith(", ...])")
    with pytest.raises(TypeError):
        hash(found)


def test_an_error_of_the_sheets_keeps_findings_as_they_are():
    found = in_blocks([*some(random.Random(2), 40)])
    fault = SheetError(found)
    assert fault.findings is found
    errors = sum(f.level == "error" for f in found)
    assert str(fault).startswith(f"{errors} errors in the sheets:")
    assert f"... and {errors - 5} more" in str(fault)


BAD = {
    "a count that is none": "{id},{day},x,0",
    "counts that are none, each another": "{id},{day},x{row},0",
    "foundings that are not there": "Q{row},{day},3,0",
    "days that are none": "{id},y{row},3,0",
    "a count that rises": "{id},{day},{up},0",
    "one row many times": "K00-00,2025-05-03,3,0",
    "looks before the start": "{id},2024-05-03,3,0",
    "brood told in the note": "{id},{day},3,0,eggs",
    "queens who left by the note": "{id},{day},{up},0,escaped",
}


def season(folder, line: str, rows: int):
    """A study of 200 foundings with so many looks."""
    ids = [f"K{i // 100:02d}-{i % 100:02d}" for i in range(200)]
    (folder / "foundings.csv").write_text(
        "founding,genus,started,queens,keeper\n"
        + "".join(f"{name},Lasius,2025-05-01,3,{name[:3]}\n" for name in ids)
    )
    first = dt.date(2025, 5, 2)
    (folder / "checks.csv").write_text(
        "founding,date,queens_alive,workers,note\n"
        + "".join(
            line.format(
                id=ids[n % 200],
                day=first + dt.timedelta(days=n // 200),
                row=n,
                up=2 + n // 200 % 2,
            )
            + "\n"
            for n in range(rows)
        )
    )
    return folder


def most_held(work) -> float:
    """Bytes held at most while it works, beyond what was held before (as Python counts them)."""
    tracemalloc.start()
    try:
        before = tracemalloc.get_traced_memory()[0]
        work()
        return tracemalloc.get_traced_memory()[1] - before
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("fault", ["a count that is none", "a count that rises"])
def test_bad_rows_take_little_more_memory_than_good_ones(tmp_path, fault):
    """30,000 bad rows: findings made one by one were some 400 bytes each, for every bad cell."""
    rows = 30_000
    good, bad = (tmp_path / name for name in ("good", "bad"))
    good.mkdir(), bad.mkdir()
    sheets = read_folder(season(good, "{id},{day},3,0", rows))
    clean = most_held(lambda: audit(sheets, TODAY))
    faulty = read_folder(season(bad, BAD[fault], rows))
    told = most_held(lambda: "\n".join(lines(audit(faulty, TODAY))))
    assert told - clean < 100 * rows


def test_every_finding_is_told_without_being_held(tmp_path):
    findings = audit(read_folder(season(tmp_path, BAD["a count that is none"], 30_000)), TODAY)
    told = iter(lines(findings, every=True))
    assert next(told).startswith("ERROR    checks.csv, row 2,")
    assert most_held(lambda: sum(map(len, told))) < 10_000_000


@pytest.mark.parametrize("fault", BAD)
def test_a_season_of_bad_rows_is_told_in_a_screen_and_each_by_itself(tmp_path, fault):
    findings = audit(read_folder(season(tmp_path, BAD[fault], 3000)), TODAY)
    assert len(findings) >= 1400
    assert len(list(lines(findings))) < 40
    entries = [line for line in lines(findings, every=True) if not line.startswith(" ")]
    assert len(entries) == len(findings)


def test_letters_and_the_study_read_a_season_of_bad_rows(tmp_path):
    season(tmp_path, BAD["a count that is none"], 3000)
    sheets = read_folder(tmp_path)
    found = audit(sheets, TODAY)
    table = pd.DataFrame(
        {
            "founding": [f"K{i // 100:02d}-{i % 100:02d}" for i in range(200)],
            "keeper": ["K00"] * 100 + ["K01"] * 100,
            "file": ["foundings.csv"] * 200,
        }
    )
    written = letters(found, table, "A club", TODAY)
    assert set(written) == {"K00", "K01"}
    assert "1,500 errors" in written["K00"]
    assert "K01-" not in written["K00"]
    with pytest.raises(SheetError, match="3,000 errors") as fault:
        read_study(tmp_path, today=TODAY)
    assert len(fault.value.findings) == 3000
    with pytest.raises(SheetError, match="Every founding has an error"):
        read_study(tmp_path, today=TODAY, without_faulty=True)


def test_a_message_without_end_is_cut():
    finding = Finding(
        level="error", rule="r", what="x" * 100_000, remedy="Mend it.", founding="y" * 999
    )
    told = "\n".join(lines([finding]))
    assert len(told) < 2500
    assert "98,000 signs more" in told
