"""A setting left blank says nothing; two workbooks contradict each other only in what they say."""

import io

import pytest
import xlsxwriter

from cohort.audit import Settings, examine
from cohort.sheets.blank import blank_workbook
from cohort.sheets.folder import read_folder
from cohort.study import read_study
from cohort.terms import SETTINGS


def book(**said: str) -> bytes:
    """Workbook with every setting in its tab `study`, most of them blank as `begin` leaves them."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as made:
        tab = made.add_worksheet("study")
        tab.write_row(0, 0, ["setting", "value"])
        for row, name in enumerate(SETTINGS, start=1):
            tab.write_row(row, 0, [name, said.get(name, "")])
    return out.getvalue()


SAID = {
    "title": "A club",
    "season": "2026",
    "horizon_days": "160",
    "ends": "2026-12-15",
    "clock": "flight",
    "date_order": "dmy",
    "place": "river plain",
    "leave_out": "mites, boosted",
    "fight_rule": "leave",
    "primary_question": "colony",
    "adjust": "feeding",
    "show_keepers": "yes",
    "photo_credit": "members of the club",
    "look_every": "7",
    "through_winter": "yes",
}


def test_every_setting_is_tried():
    assert set(SAID) == set(SETTINGS)


@pytest.mark.parametrize("name", SAID)
@pytest.mark.parametrize("filled", ["K1.xlsx", "K2.xlsx"])
def test_blank_in_one_workbook_takes_nothing_from_the_other(name, filled, folder, today):
    for file in ("K1.xlsx", "K2.xlsx"):
        folder.put(file, book(**({name: SAID[name]} if file == filled else {})))
    made = examine(read_folder(folder.path), today)
    assert [f for f in made.findings if f.rule == "setting-twice"] == []
    (folder.path / {"K1.xlsx": "K2.xlsx", "K2.xlsx": "K1.xlsx"}[filled]).unlink()
    assert made.settings == examine(read_folder(folder.path), today).settings
    assert getattr(made.settings, name) != getattr(Settings(), name)


def test_workbooks_of_begin_and_a_filled_one_go_together(folder, today):
    folder.put("K1.xlsx", blank_workbook("K1"))
    folder.put("K3.xlsx", blank_workbook("K3", settings=SAID))
    made = examine(read_folder(folder.path), today)
    assert [f.rule for f in made.findings if f.level == "error"] == []
    assert (made.settings.title, made.settings.horizon_days) == ("A club", 160)


@pytest.mark.parametrize(
    ("name", "one", "other"),
    [
        ("horizon_days", "180", "180.0"),
        ("show_keepers", "Yes", "yes"),
        ("leave_out", "mites,boosted", "mites, boosted"),
        ("ends", "2026-12-15", "15 December 2026"),
        ("fight_rule", "Leave", "leave"),
    ],
)
def test_two_spellings_of_one_value_agree(name, one, other, folder, today):
    folder.put("K1.xlsx", book(**{name: one}))
    folder.put("K2.xlsx", book(**{name: other}))
    assert examine(read_folder(folder.path), today).findings == ()


def test_a_contradiction_is_mended_as_its_remedy_says(folder, today):
    folder.put("K1.xlsx", book(horizon_days="160"))
    for value, rules in (("180", ["setting-twice"]), ("", []), ("160", [])):
        folder.put("K2.xlsx", book(horizon_days=value))
        told = examine(read_folder(folder.path), today).findings
        assert [f.rule for f in told] == rules
    assert examine(read_folder(folder.path), today).settings.horizon_days == 160


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_a_kind_named_in_one_workbook_and_not_yet_in_another(order, folder, today):
    rows = ("big-black,,,likely,\n", "big-black,Lasius,niger,,black ant\n")
    text = "kind,genus,species,id_confidence,called\n" + "".join(rows[place] for place in order)
    folder.put("kinds.csv", text)
    folder.put(
        "foundings.csv",
        "founding,kind,started,queens\nK2-01,big-black,2026-07-04,1\n"
        "K2-02,big-black,2026-07-04,3\n",
    )
    study = read_study(folder.path, today=today)
    assert set(study.foundings["genus"]) == {"Lasius"}
    kind = study.kinds.drop(columns="first_called").to_dict("records")
    assert kind == [
        {
            "kind": "big-black",
            "genus": "Lasius",
            "species": "niger",
            "id_confidence": "likely",
            "called": "black ant",
        }
    ]
