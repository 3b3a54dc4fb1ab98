"""Printing for people: tables with lines on a terminal, plain columns elsewhere; lists of commands.

What comes in: texts. What goes out: print on standard output. Numbers are made elsewhere.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from typer.core import TyperGroup

from cohort.base.errors import printable


class ByUse(TyperGroup):
    """Commands under whom they are for, each with its whole first sentence."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of commands (typer's own cuts what is longer than a line)."""
        parts: dict[str, list[tuple[str, str]]] = {}
        for name in self.list_commands(ctx):
            command = self.get_command(ctx, name)
            if command is not None and not command.hidden:
                part = getattr(command, "rich_help_panel", None) or "Commands"
                told = (command.help or "").split("\n\n", 1)[0]
                parts.setdefault(part, []).append((name, told))
        for part, rows in parts.items():
            with formatter.section(part):
                formatter.write_dl(rows)


def table(headings: Sequence[str], rows: Sequence[Sequence[object]], *, title: str = "") -> None:
    """Print a table.

    Parameters
    ----------
    headings : sequence of str
        Line ends in them are for narrow columns with rules; in plain columns they are blanks.
    rows : sequence of sequences
        One cell for each heading.
    title : str, optional
        Line above it.
    """
    if sys.stdout.isatty():
        _ruled(headings, rows, title)
        return
    if title:
        print(title)
    plain = [heading.replace("\n", " ") for heading in headings]
    cells = [[printable(str(cell)) for cell in row] for row in (plain, *rows)]
    widths = [max(len(row[place]) for row in cells) for place in range(len(headings))]
    for row in cells:
        print("  ".join(cell.ljust(wide) for cell, wide in zip(row, widths, strict=True)).rstrip())


def _ruled(headings: Sequence[str], rows: Sequence[Sequence[object]], title: str) -> None:
    from rich.console import Console
    from rich.table import Table

    ruled = Table(title=title or None, title_justify="left")
    for heading in headings:
        ruled.add_column(heading, overflow="fold")
    for row in rows:
        ruled.add_row(*(printable(str(cell)) for cell in row))
    Console().print(ruled, markup=False)


def width() -> int:
    """Signs that fit on a line."""
    import shutil

    return max(60, min(shutil.get_terminal_size((96, 40)).columns, 110))


@contextmanager
def progress(quiet: bool = False) -> Iterator[Callable[[str], None]]:
    """Say what is being done while long work runs: a moving line on a terminal, else plain lines.

    Parameters
    ----------
    quiet : bool
        Say nothing.

    Yields
    ------
    callable
        Takes what is being done now.
    """
    if quiet:
        yield lambda what: None
    elif sys.stderr.isatty():
        from rich.console import Console

        with Console(stderr=True).status("") as line:
            yield lambda what: line.update(f"{what} ...")
    else:
        # in one piece, so that whatever comes next, a closing line too, begins a line
        yield lambda what: print(f"{what} ...\n", end="", file=sys.stderr, flush=True)
