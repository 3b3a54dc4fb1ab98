"""The invented study of the pages in classes of ours, so that it can be written and read."""

import made

from cohort.comparison import Comparison
from cohort.nonparametric.counts import derived, raw_table
from cohort.results import Results
from cohort.sheets import written
from cohort.study import Settings, Study


def invented(**changes) -> Comparison:
    """The invented study of the pages, with classes of ours: nothing is fitted."""
    plain = made.material()
    frames = {name: value for name, value in vars(plain.study).items() if name != "settings"}
    catches = frames["catches"].astype({"not_kept": object}).fillna({"not_kept": ""})
    frames["catches"] = catches.assign(not_kept=catches["not_kept"].astype(str))
    frames["foundings"] = frames["foundings"].assign(season="2025")
    frames["checks"] = frames["checks"].assign(brood="", fed="", give_or_take=0.0)
    study = Study(settings=Settings(**vars(made.settings(**changes))), **frames)
    found = vars(plain.results)
    past = study.history()
    tables = {
        name: written.typed(found[name], name)
        for name in ("comparisons", "curves", "second_opinion", "verdicts", "sensitivity")
    }
    frame = derived(past)
    frame = frame if study.settings.show_keepers else frame.drop(columns="keeper")
    return Comparison(
        study,
        past,
        Results(
            **tables,
            foundings=written.typed(frame, "foundings"),
            raw=raw_table(frame, past.horizon, level=0.9),
            diagnosis={"headline": 3} | found["diagnosis"],
            run={"horizon": past.horizon, "level": 0.9, "seed": 1, "title": "Three tubes",
                 "versions": {"founding-cohort": "0"}, "sheets": {"foundings.csv": "0" * 64}},
        ),
    )  # fmt: skip
