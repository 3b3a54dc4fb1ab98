"""The table of priors in ``MODEL.md``, made from the table of parameters.

Comes in: the text of ``MODEL.md``. Goes out: the same with its priors as they are now:
``python -m cohort.model.model_page cohort/model/MODEL.md``. Never: a prior of its own.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from cohort.model.parameters import TABLE

BEGIN: Final = "<!-- priors: made by python -m cohort.model.model_page, not by hand -->\n"
END: Final = "<!-- end of priors -->\n"


def priors_table() -> str:
    """Every prior with what it is a prior of and its reason, as Markdown."""
    rows = [
        f"| `{name}` | {row.prior} | {row.says} | {row.why} |"
        for name, row in TABLE.items()
        if row.prior is not None
    ]
    return "\n".join(["| name | prior | of | reason |", "|---|---|---|---|", *rows]) + "\n"


def renewed(text: str) -> str:
    """The text with the priors between its marks made anew.

    Raises
    ------
    ValueError
        A mark is missing.
    """
    head, begin, rest = text.partition(BEGIN)
    _, end, tail = rest.partition(END)
    if not begin or not end:
        raise ValueError("the marks of the table of priors are missing")
    return head + BEGIN + priors_table() + END + tail


if __name__ == "__main__":
    page = Path(sys.argv[1])
    page.write_text(renewed(page.read_text(encoding="utf-8")), encoding="utf-8")
