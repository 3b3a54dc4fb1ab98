"""How results look in a terminal and in a notebook: a title and a few facts, not their innards.

Comes in: title and facts from the class that is shown. Goes out: text, or an HTML table with
everything escaped. Never: a number of its own.
"""

from __future__ import annotations

from html import escape

Facts = dict[str, str]


class Shown:
    """Gives a class its look; the class has `facts`."""

    def facts(self) -> tuple[str, Facts]:
        """Title, and facts by name, in the order in which they are read."""
        raise NotImplementedError  # every class that is shown says its own

    def __repr__(self) -> str:
        title, facts = self.facts()
        width = max((len(name) for name in facts), default=0)
        lines = (f"  {name.ljust(width)}  {value}" for name, value in facts.items())
        return "\n".join((title, *lines))

    def _repr_html_(self) -> str:
        title, facts = self.facts()
        rows = "".join(
            f'<tr><th scope="row" style="text-align:left">{escape(name)}</th>'
            f'<td style="text-align:left">{escape(value)}</td></tr>'
            for name, value in facts.items()
        )
        return f"<table><caption>{escape(title)}</caption><tbody>{rows}</tbody></table>"


def several(count: int, one: str) -> str:
    """A count with its noun, singular or plural."""
    return f"{count:,} {one if count == 1 else one + 's'}"


TIE = "\u00a0"
"""A blank at which no line is broken."""

SOFT_TIE = "\u2007"
"""A blank at which a line is broken only where there is no room otherwise."""

HYPHEN = "\u00ad"
"""Where a word may be parted in a heading: a hyphen that shows at the end of a line alone."""


def tied(text: str) -> str:
    """Text that is not broken at the end of a line, such as ``12 Jul``."""
    return text.replace(" ", TIE)


def untied(text: str) -> str:
    """The same text as it is printed."""
    return text.replace(TIE, " ").replace(SOFT_TIE, " ")
