"""Command ``form``: a page for the phone, one per keeper.

What comes in: words on the command line. What goes out: HTML files to be sent to the keepers.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cohort.base.errors import StudyError


def form(
    study: Annotated[Path, typer.Argument(help="Folder of the study.", show_default=False)],
    keeper: Annotated[
        str,
        typer.Option(
            "--keeper",
            metavar="SIGN",
            help="Keeper's sign, such as K2; all keepers, a page each, if not given.",
            show_default=False,
        ),
    ] = "",
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the pages.")] = Path(
        "forms"
    ),
    language: Annotated[str, typer.Option("--language", help="en, de, es or fr.")] = "en",
) -> None:
    """Form for the phone: a page per keeper that works without a network.

    Send each keeper her page. She taps what she sees and sends the lines back; cohort log adds
    them. The page holds the numbers, kinds and last counts of her open foundings, no note and no
    place.
    """
    from cohort.desk.form import form_material, render_form
    from cohort.desk.print.signs import signs
    from cohort.sheets.append import safe_name
    from cohort.sheets.folder import read_folder
    from cohort.sheets.numbers import as_known
    from cohort.sheets.put import replace
    from cohort.study import read_study

    known = signs(study, read_folder(study))
    whose = (as_known(keeper, known),) if keeper else known or ("",)
    read = read_study(study, without_faulty=True)
    pages = {sign: form_material(read, sign, known) for sign in whose}
    if not any(page.foundings for page in pages.values()):
        of = f" of keeper {keeper}" if keeper else ""
        raise StudyError(f"No founding{of} is open, so there is nothing to look at.")
    texts = {sign: render_form(page, language) for sign, page in pages.items() if page.foundings}
    out.mkdir(parents=True, exist_ok=True)
    for sign, text in texts.items():
        path = out / (f"form-{safe_name(sign)}.html" if sign else "form.html")
        if path.exists() and b"founding-form:" not in path.read_bytes():
            raise StudyError(f"{path} is there already and is no form. Give another --out.")
        replace(path, text.encode("utf-8"))
        typer.echo(f"Wrote {path}")
    typer.echo(f"What comes back: cohort log {study} --from FILE.txt")
