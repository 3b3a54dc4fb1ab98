"""A template and its data -> a PDF.

What comes in: the name of a template of this package and plain data. What goes out: the bytes of
a PDF, the same for the same data. Text goes in as data, never as mark-up; no file of the person
is read and nothing is fetched.
"""

from __future__ import annotations

import datetime as dt
import importlib.util
import json
from functools import cache
from pathlib import Path
from typing import Any

from cohort.base.errors import StudyError

HERE = Path(__file__).parent
PAPERS = {"a4": "a4", "letter": "us-letter"}
"""Paper sizes by the words of the command line, and what typst calls them."""
_STAMP = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)


@cache
def _fonts() -> Any:
    """Fonts that come with the libraries, so that a page looks the same on every machine."""
    import typst

    spec = importlib.util.find_spec("matplotlib")  # found, not imported
    places = list(spec.submodule_search_locations or []) if spec else []
    folders = [p for place in places if (p := Path(place) / "mpl-data/fonts/ttf").is_dir()]
    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=True,
        font_paths=[str(folder) for folder in folders],
    )


def typeset(template: str, data: dict[str, Any]) -> bytes:
    """Bytes of the PDF.

    Parameters
    ----------
    template : str
        ``night``, ``checks`` or ``labels``.
    data : dict
        What the template asks for; must go into JSON.

    Raises
    ------
    StudyError
        If the page cannot be set.
    """
    import typst

    paper = PAPERS.get(str(data.get("paper")))
    if paper is None:
        raise StudyError(f"Paper '{data.get('paper')}' is not known. Take {' or '.join(PAPERS)}.")
    try:
        out = typst.compile(
            str(HERE / f"{template}.typ"),
            root=str(HERE),
            font_paths=_fonts(),
            format="pdf",
            sys_inputs={"data": json.dumps({**data, "paper": paper}, ensure_ascii=False)},
            timestamp=_STAMP,
        )
    except typst.TypstError as fault:
        raise StudyError(f"The sheet {template} could not be set: {fault.message}") from fault
    return bytes(out)
