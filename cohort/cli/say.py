"""Printing for people: tables that fit the line, lists of commands.

What comes in: texts. What goes out: print on standard output. Numbers are made elsewhere.
"""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperGroup

from cohort.base.display import HYPHEN, SOFT_TIE, untied
from cohort.base.errors import Finding, printable

if TYPE_CHECKING:
    from cohort.terms.voice import Voice


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


def table(
    headings: Sequence[str],
    rows: Sequence[Sequence[object]],
    *,
    title: str = "",
    own: Voice | None = None,
) -> None:
    """Print a table no wider than the line: with rules on a terminal, plain columns elsewhere.

    Cells are wrapped between words and never cut; `cohort.base.display.tied` keeps together
    what belongs together.
    Where even the longest words do not fit side by side, each row becomes a short list.

    Parameters
    ----------
    headings : sequence of str
    rows : sequence of sequences
        One cell for each heading.
    title : str, optional
        Line above it.
    own : Voice, optional
        Language; English if not given.
    """
    cells = [[printable(str(cell)) for cell in row] for row in rows]
    if title:
        say([title])
    loose = [[cell.replace(SOFT_TIE, " ") for cell in row] for row in cells]
    tries = [(True, cells), (True, loose)] if on_terminal() else [(False, cells)]
    for ruled, held in (*tries, (False, loose)):
        gap = 3 if ruled else 2
        widths = column_widths((headings, *held), width() - gap * len(headings) - ruled)
        if widths is not None:
            _print(headings, held, widths, ruled=ruled)
            return
    for line in as_lists(headings, cells, width(), own):
        typer.echo(line)


def _print(
    headings: Sequence[str], cells: Sequence[Sequence[str]], widths: Sequence[int], *, ruled: bool
) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    made = Table(
        box=box.SQUARE if ruled else None, pad_edge=ruled, padding=(0, 1 if ruled else 2, 0, 0)
    )
    if ruled:
        made.padding = (0, 1)
    for heading, wide in zip(headings, widths, strict=True):
        made.add_column(_wrapped(heading, wide), width=wide, no_wrap=True, header_style="bold")
    for row in cells:
        made.add_row(*(_wrapped(cell, wide) for cell, wide in zip(row, widths, strict=True)))
    console = Console(width=width(), markup=False, highlight=False, emoji=False, soft_wrap=False)
    with console.capture() as caught:
        console.print(made)
    for line in caught.get().splitlines():
        typer.echo(line.rstrip())


def column_widths(rows: Sequence[Sequence[str]], room: int) -> list[int] | None:
    """Widths of columns that together need no more than some room, the widest made narrower.

    Parameters
    ----------
    rows : sequence of sequences
        Headings first.
    room : int
        Signs for all columns, without what stands between them.

    Returns
    -------
    list of int or None
        None where the longest words do not fit.
    """
    columns = list(zip(*rows, strict=True))
    least = [max(len(part) for cell in column for part in _parts(cell)) for column in columns]
    wide = [max(len(cell.replace(HYPHEN, "")) for cell in column) for column in columns]
    wide = [max(pair) for pair in zip(wide, least, strict=True)]
    if sum(least) > room:
        return None
    while sum(wide) > room:
        spare = [have > need for have, need in zip(wide, least, strict=True)]
        at = max((i for i, s in enumerate(spare) if s), key=lambda i: wide[i])
        wide[at] -= 1
    return wide


def _parts(text: str) -> list[str]:
    """What a text can be broken into, hyphens that stand at the end of a line included."""
    out = []
    for word in text.split(" "):
        *firsts, last = word.split(HYPHEN)
        out += [*(f"{first}-" for first in firsts), last]
    return out


def as_lists(
    headings: Sequence[str], rows: Sequence[Sequence[str]], wide: int, own: Voice | None = None
) -> Iterator[str]:
    """Rows as short lists: the first cell, and each other one under it behind its heading."""
    from cohort.terms.voice import SHARED, voice

    say = (own or voice(SHARED)).say
    for first, *rest in rows:
        yield untied(first)
        for heading, cell in zip(headings[1:], rest, strict=True):
            told = say("headed", head=heading.replace(HYPHEN, ""), text=cell)
            yield from _lines(told, wide, indent=2)


def _wrapped(cell: str, wide: int) -> str:
    return "\n".join(_lines(cell, wide))


def _lines(text: str, wide: int, indent: int = 0) -> list[str]:
    """Text in lines, broken at blanks, and at soft hyphens where a word does not fit."""
    broken = []
    for word in text.split(" "):
        whole = word.replace(HYPHEN, "")
        broken.append(" ".join(_parts(word)) if len(whole) + indent > wide else whole)
    told = textwrap.wrap(
        " ".join(broken), wide, break_on_hyphens=False, break_long_words=False,
        initial_indent=" " * indent, subsequent_indent=" " * 2 * indent,
    )  # fmt: skip
    return [untied(line) for line in told]


def say(texts: Iterable[str], *, err: bool = False) -> None:
    """Print sentences, each on lines of its own; broken into lines only where a line has an end."""
    ends = os.environ.get("COLUMNS") or (sys.stderr if err else sys.stdout).isatty()
    for text in texts:
        lines = _lines(text, width()) if ends and len(text) > width() else [untied(text)]
        for line in lines:
            typer.echo(line, err=err)


def echo(text: str, *, err: bool = False) -> None:
    """Print one text, see `say`."""
    say([text], err=err)


def on_terminal() -> bool:
    """Whether what is printed goes to a terminal."""
    return sys.stdout.isatty()


def width() -> int:
    """Signs that fit on a line."""
    import shutil

    return max(40, min(shutil.get_terminal_size((96, 40)).columns, 110))


def findings_told(findings: Iterable[Finding], language: str = "en") -> None:
    """Print findings, like ones grouped."""
    from cohort.audit.show import lines

    for line in lines(tuple(findings), width=width(), language=language):
        echo(line)
