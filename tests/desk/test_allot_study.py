"""From the catches of a study to a kept list and rows that agree with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from cohort.base.errors import SheetError, StudyError
from cohort.cli import main
from cohort.desk.allot import Ask, draw
from cohort.desk.allot_study import (
    doubts,
    keep,
    kinds_of,
    numbered,
    pools_from_catches,
    pools_named,
    set_aside,
)
from cohort.desk.begin import begin
from cohort.desk.print import night_list
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import against_lists, next_name, read_lists, write_list
from cohort.study import read_study


@pytest.fixture
def study(tmp_path: Path) -> Path:
    place = tmp_path / "study"
    begin(place, 2, settings={"leave_out": "mites"})
    (place / "kinds.csv").write_text("kind,genus\nlamp,\nbig,Lasius\nsmall,Lasius\n")
    (place / "catches.csv").write_text(
        "catch,date,kind,genus,queens,keeper,died\nC1,2024-07-03,,Messor,9,K1,1\n"
        "C2,2024-07-03,big,,8,K2,\nC3,2024-07-03,small,,8,K2,\nC4,2024-07-04,lamp,,4,K2,\n"
    )
    return place


def allotted(study: Path, seed: int = 7) -> str:
    sheets = read_folder(study)
    name = next_name(study)
    lots = numbered(sheets, study, draw(pools_from_catches(sheets), Ask(), seed, list_name=name))
    keep(study, lots, name=name, seed=seed, ask=Ask(), started="2024-07-05")
    return name


def test_catches_become_pools_less_the_dead_and_the_housed(study: Path) -> None:
    pools = pools_from_catches(read_folder(study))
    assert [(p.kind, p.queens, p.keeper, p.flight, p.genus) for p in pools] == [
        ("Messor", 8, "K1", "C1", "Messor"),
        ("big", 8, "K2", "C2", "Lasius"),
        ("small", 8, "K2", "C3", "Lasius"),
        ("lamp", 4, "K2", "C4", ""),
    ]
    (study / "foundings-K2.csv").write_text(
        "founding,kind,started,queens,keeper,catch\nK2-01,big,2024-07-04,3,K2,C2\n"
    )
    pools = pools_from_catches(read_folder(study))
    assert [p.queens for p in pools] == [8, 5, 8, 4]


def test_the_list_and_the_sheet_agree(study: Path) -> None:
    assert allotted(study) == "L1"
    made = read_study(study)
    lists = read_lists(study)
    assert len(lists) == len(made.foundings) == 14
    assert set(lists["seed"]) == {"7"}
    assert made.foundings["assigned"].eq("random").all()
    assert made.foundings.loc[made.foundings["block"] == "L1-1", "queens"].sum() == 8
    assert set(made.foundings["catch"]) == {"C1", "C2", "C3", "C4"}
    assert against_lists(made.foundings, lists) == []
    with pytest.raises(StudyError, match="No queens wait"):
        pools_from_catches(read_folder(study))


def test_a_sheet_that_differs_from_the_list_is_seen(study: Path) -> None:
    allotted(study)
    made = read_study(study).foundings
    lists = read_lists(study)
    lots = lists.set_index("founding")
    one = str(lots.index[lots["queens"] == 1][0])
    for change, words in (
        ({"queens": 2}, "The list has 1 queen for"),
        ({"block": "L1-9"}, "is in block"),
        ({"block": "L9-1", "founding": "K9-01"}, "no list of this study has it"),
        ({"block": "L1-1.2", "founding": "K9-01"}, "is the name of a lot; its block is L1-1"),
    ):
        wrong = made.copy()
        for column, value in change.items():
            wrong.loc[wrong["founding"] == one, column] = value
        found = against_lists(wrong, lists)
        assert any(words in f.what for f in found), found
        assert all(f.level == "warning" and f.file for f in found)
    gone = against_lists(made[made["founding"] != one], lists)
    assert [f.founding for f in gone] == [one]


def test_a_printed_night_list_is_held_in_order(study: Path) -> None:
    lots = night_list(Ask(), 4, name="L1")
    write_list(study, "L1", lots.rows("K2", "2024-06-01"))
    sizes = lots.columns[0][0]
    rows = "".join(
        f"K2-{n:02d},big,2024-07-0{n},{size},K2,random,L1-A1\n"
        for n, size in enumerate(sizes[:3], start=1)
    )
    head = "founding,kind,started,queens,keeper,assigned,block\n"
    (study / "foundings-K2.csv").write_text(head + rows)
    assert against_lists(read_study(study).foundings, read_lists(study)) == []
    turned = "".join(
        f"K2-{n:02d},big,2024-07-0{n},{4 - size},K2,random,L1-A1\n"
        for n, size in enumerate(sizes[:3], start=1)
    )
    (study / "foundings-K2.csv").write_text(head + turned)
    found = against_lists(read_study(study).foundings, read_lists(study))
    assert [f.rule for f in found] == ["against-the-list"]


def test_a_list_is_never_changed_and_an_altered_one_is_told(study: Path) -> None:
    allotted(study)
    with pytest.raises(StudyError, match="not changed"):
        write_list(study, "L1", [])
    assert next_name(study) == "L2"
    path = study / "lists" / "L1.csv"
    path.write_text(path.read_text().replace(",random", ",random,x", 1))
    with pytest.raises(StudyError, match="row 2"):
        read_lists(study)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(StudyError, match=r"L1\.csv"):
        read_lists(study)


def test_queens_are_set_aside_by_the_agreed_rule_only(study: Path) -> None:
    pools = pools_from_catches(read_folder(study))
    left, out = set_aside(pools, ["C2=2:mites"], ("mites",))
    assert [p.queens for p in left] == [8, 6, 8, 4]
    assert [(s.pool.flight, s.queens, s.reason) for s in out] == [("C2", 2, "mites")]
    with pytest.raises(StudyError, match="not among the reasons agreed"):
        set_aside(pools, ["C2=2:boosted"], ("mites",))
    with pytest.raises(StudyError, match="more than one of these"):
        set_aside(pools, ["Lasius=1"], ("mites",))
    with pytest.raises(StudyError, match="cannot be set aside"):
        set_aside(pools, ["C2=20"], ("mites",))
    with pytest.raises(StudyError, match="not understood"):
        set_aside(pools, ["C2"], ("mites",))


def test_named_queens_are_spelled_right_or_told(study: Path) -> None:
    kinds = kinds_of(read_folder(study))
    (pool,) = pools_named("lasius=9", "K1", "", kinds)
    assert (pool.kind, pool.genus) == ("Lasius", "Lasius")
    assert doubts([pool])
    assert not doubts(pools_named("Lasius niger=9", "K1", "", kinds))
    with pytest.raises(StudyError, match="Did you mean 'Lasius'"):
        pools_named("Lasuis=9", "K1", "", kinds)
    with pytest.raises(StudyError, match="not understood"):
        pools_named("Lasius", "K1", "", kinds)
    lots = draw(pools_named("Lasius=9", "", "", kinds), Ask(), 1)
    with pytest.raises(StudyError, match="keeper"):
        numbered(read_folder(study), study, lots)


def test_a_word_that_is_no_genus_is_kept_as_a_kind_of_ones_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "club"
    with pytest.raises(SystemExit):
        main(["begin", str(place)])
    queens = "Lasius=4,small-dark=4"
    with pytest.raises(SystemExit) as end:
        main(["allot", str(place), "--queens", queens, "--keeper", "K1", "--write"])
    assert end.value.code == 0
    told = capsys.readouterr().out
    assert "small-dark: no genus of the list" in told
    assert f"cohort print labels {place} --all" in told
    made = read_study(place)
    kinds = made.foundings.set_index("founding")["kind"]
    assert sorted(set(kinds)) == ["", "small-dark"]
    with pytest.raises(SystemExit):
        main(["audit", str(place), "--strict"])
    assert "genera" not in capsys.readouterr().out
    # and the next night it is there already
    with pytest.raises(SystemExit) as end:
        main(["allot", str(place), "--queens", "small-dark=4", "--keeper", "K1", "--write"])
    assert end.value.code == 0
    assert (place / "kinds-K1.csv").read_text().count("small-dark") == 1


def test_numbers_of_lists_and_sheets_are_not_given_again(study: Path) -> None:
    allotted(study)
    sheets = read_folder(study)
    pools = pools_named("Formica=4", "K1", "", {})
    lots = numbered(sheets, study, draw(pools, Ask(), 1, list_name="L2"))
    used = set(read_study(study).foundings["founding"])
    assert not used & {lot.founding for lot in lots}
    with pytest.raises(SheetError, match="Nothing was written"):
        keep(study, lots, name="L2", seed=1, ask=Ask(), started="2091-01-01")
    assert not (study / "lists" / "L2.csv").exists()


def test_the_command_draws_and_writes_when_asked(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [
        "allot",
        str(study),
        "--seed",
        "5",
        "--set-aside",
        "C2=1:mites",
        "--started",
        "2024-07-05",
    ]
    with pytest.raises(SystemExit) as done:
        main(words)
    assert done.value.code == 0
    said = capsys.readouterr().out
    assert "seed 5" in said
    assert "Nothing was written" in said
    assert not (study / "lists").exists()
    with pytest.raises(SystemExit):
        main([*words, "--write"])
    again = capsys.readouterr().out
    table = [line for line in again.splitlines() if "random" in line]
    assert table == [line for line in said.splitlines() if "random" in line]
    assert "K1-01 to K1-0" in again
    assert "You need not type" in again
    assert (study / "lists" / "L1.csv").exists()
    made = read_study(study).foundings
    for line in table:
        number = line.split()[0]
        queens = int(made.loc[made["founding"] == number, "queens"].iloc[0])
        assert ("one alone" in line) == (queens == 1)


def test_the_same_command_twice_keeps_one_list(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [
        "allot",
        str(study),
        "--queens",
        "Messor=9",
        "--keeper",
        "K1",
        "--seed",
        "3",
        "--write",
    ]
    for code in (0, 1):
        with pytest.raises(SystemExit) as done:
            main(words)
        assert done.value.code == code
    assert "L1 is this very draw" in capsys.readouterr().err
    assert [path.name for path in (study / "lists").iterdir()] == ["L1.csv"]
    assert len(read_study(study).foundings) == len(read_lists(study))


@pytest.mark.parametrize(
    ("started", "words"),
    [("4.7.26", "could be"), ("the 4th", "not a date"), ("2091-01-01", "has not come yet")],
)
def test_a_day_that_is_not_certain_stops_it_before_the_draw(
    started: str, words: str, study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as done:
        main(["allot", str(study), "--started", started])
    assert done.value.code == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("--started: ")
    assert words in err
    assert "row" not in err


REFUSED = [
    ("Solenopsis invicta", "invasive"),
    ("Linepithema humile", "spreads with people"),
    ("Lasius umbratus", "colony of a host"),
    ("Polyergus", "colony of a host"),
    ("Eciton", "come from a split"),
    ("Diacamma", "come from a split"),
]


@pytest.mark.parametrize(("name", "words"), REFUSED)
def test_what_must_not_be_drawn_is_refused_before_the_lots(
    name: str, words: str, study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["allot", str(study), "--queens", f"{name}=9", "--keeper", "K1", "--seed", "3"]
    with pytest.raises(SystemExit) as done:
        main([*asked, "--write"])
    assert done.value.code == 1
    out, err = capsys.readouterr()
    assert out == ""  # no lot is seen
    assert words in err
    assert "--anyway" in err
    assert not (study / "lists").exists()
    with pytest.raises(SystemExit) as done:
        main([*asked, "--anyway"])
    assert done.value.code == 0
    out = capsys.readouterr().out
    assert words in out
    assert out.index(words) < out.index("K1-01")


def test_what_is_doubtful_or_stings_is_said_before_the_lots(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, words in (("Lasius", "found in a host colony"), ("Myrmica", "sting")):
        with pytest.raises(SystemExit):
            main(["allot", str(study), "--queens", f"{name}=9", "--keeper", "K1"])
        out = capsys.readouterr().out
        assert 0 <= out.lower().index(words) < out.index("K1-01")


def test_a_kind_at_home_in_one_place_gets_its_lots_and_its_caution(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as done:
        main(["allot", str(study), "--queens", "Myrmica rubra=4", "--keeper", "K1"])
    assert done.value.code == 0
    out = capsys.readouterr().out
    assert out.index("invasive in North America") < out.index("K1-01")


def test_queens_that_were_all_set_aside_stop_nothing(study: Path) -> None:
    pools = pools_named("Messor=8,Polyergus=2", "K1", "", {})
    left, _ = set_aside(pools, ["Polyergus=2:mites"], ("mites",))
    assert {lot.pool.kind for lot in draw(left, Ask(), 1)} == {"Messor"}


def test_a_sign_in_another_case_is_the_same_keeper(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["allot", str(study), "--queens", "Messor=9", "--keeper", "k1", "--write"]
    with pytest.raises(SystemExit) as done:
        main(words)
    assert done.value.code == 0
    capsys.readouterr()
    assert read_study(study).foundings["keeper"].unique().tolist() == ["K1"]
    assert (study / "foundings-K1.csv").exists()
