"""How results look in a terminal and in a notebook: a title and a few facts, not their innards.

Comes in: title and facts from the class that is shown. Goes out: text, or an HTML table with
everything escaped. Never: a number of its own.
"""

from __future__ import annotations

import re
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


_STEERS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")


def several(count: int, one: str) -> str:
    """A count with its noun, singular or plural."""
    return f"{count:,} {one if count == 1 else one + 's'}"


def visible(text: str) -> str:
    """Text whose signs that steer a terminal (escape, zero, turned writing) are spelled out.

    Line ends and tabs stay. What a name holds that is no letter (bytes of another encoding) is
    spelled out too, so that it can be printed and written anywhere.
    """
    return _STEERS.sub(lambda sign: _spelled(sign[0]), text)


def _spelled(sign: str) -> str:
    code = ord(sign)
    if 0xDC80 <= code <= 0xDCFF:  # a byte that is no letter, as Python keeps it in file names
        code -= 0xDC00
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"
