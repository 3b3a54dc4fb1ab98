"""Tables of results as plotting libraries take them.

Comes in: a table as it is written. Goes out: the same rows, long, with plain words beside the codes
and every blank as NA. Never: a number of its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import pandas as pd

from cohort.terms.described import attributes
from cohort.terms.questions import ALIKE, AVERAGE, MATED_FIRST, NEW, NEXT_SEASON, QUANTITIES, SEEN

WAYS: Final = {
    "single": "one queen",
    "multi": "several queens",
    "difference": "several less one",
    "ratio": "several by one",
}
KINDS: Final = {
    "all": "all kinds",
    AVERAGE: "all kinds, each alike",
    NEXT_SEASON: "all kinds, next season",
    NEW: "a kind not yet tried",
}
READINGS: Final = {
    SEEN: "workers and a queen",
    ALIKE: "a mated queen, if all die alike",
    MATED_FIRST: "a mated queen, if the mated die first",
}
CURVES: Final = {
    "queen_survival": "queens alive",
    "all_lost": "all queens lost, no worker seen",
    "first_worker": "first worker seen",
    "queens_left_0": "no queen left",
    "queens_left_1": "one queen left",
    "queens_left_2": "several queens left",
}
_FROM: Final = {"model_": "model", "replicated_": "replicated by the model"}
COUNTED: Final = "counted"


def tidy(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    """The rows of a table with words to print beside its codes.

    Parameters
    ----------
    frame : DataFrame
        As written.
    name : str
        Table it is.

    Returns
    -------
    DataFrame
        Its own columns; blank text is NA. Besides, where the table has the column: ``way`` (of
        ``arm``), ``kind`` (of ``genus``), ``what`` (of ``quantity``, ``contrast`` or ``curve``),
        ``as_colony`` (of ``reading``) and, of curves, ``source`` (counted, model, replicated by the
        model). All of them are categories in the order in which they are printed. ``attrs`` has the
        units and meanings.
    """
    out = frame.copy()
    for column in out.columns:
        if out[column].dtype == object:
            out[column] = out[column].replace("", None)
    if "arm" in out:
        out["way"] = _category(out["arm"].map(lambda word: WAYS.get(word, word)), WAYS.values())
    if "genus" in out:
        kinds = sorted({str(k) for k in out["genus"].dropna()} - set(KINDS))
        out["kind"] = _category(
            out["genus"].map(lambda word: KINDS.get(word, word)), [*kinds, *KINDS.values()]
        )
    if "reading" in out:
        out["as_colony"] = _category(out["reading"].map(READINGS), READINGS.values())
    if "curve" in out:
        _of_curves(out)
    plain = {one.name: one.plain for one in QUANTITIES.values()}
    for column in ("quantity", "contrast"):
        if column in out:
            words = out[column].map(lambda word: plain.get(word, word))
            out["what"] = _category(words, plain.values())
    out.attrs.update(attributes(name))
    return out


def _of_curves(out: pd.DataFrame) -> None:
    source = pd.Series(COUNTED, index=out.index, dtype=object)
    bare = out["curve"].astype(str)
    for head, told in _FROM.items():
        source = source.mask(bare.str.startswith(head), told)
        bare = bare.str.removeprefix(head)
    out["source"] = _category(source, [COUNTED, *_FROM.values()])
    out["what"] = _category(bare.map(lambda word: CURVES.get(word, word)), CURVES.values())


def _category(words: pd.Series, order: Iterable[str]) -> pd.Series:
    """Words as a category: those of the order that occur, then any others."""
    known = list(dict.fromkeys(order))
    there = list(dict.fromkeys(words.dropna()))
    names = [word for word in known if word in there]
    names += [word for word in there if word not in names]
    return pd.Series(pd.Categorical(words, names, ordered=True), index=words.index)
