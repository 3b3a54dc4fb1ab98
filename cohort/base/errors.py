"""The errors a person may meet, and the finding that an audit tells of.

What comes in: nothing; this module stands left of all others. What goes out: the family of
exceptions and `Finding`. It never prints and never decides how a fault is shown.

The family::

    CohortError               a known fault; str() is the plain message that is printed
    |- SheetError             the sheets bear errors; .findings holds all of them
    |- StudyError             the folder, a setting or a request cannot be used
    `- GateError              the fit has not settled; .diagnosis says why
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

Level = Literal["error", "warning", "note"]

_TOLD = 5  # so many errors are told in a message, the others counted

LEVELS: tuple[Level, ...] = ("error", "warning", "note")
_STEERS = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)


def printable(text: str) -> str:
    """Text whose signs that steer a terminal or turn the direction of reading are spelled out.

    They may stand in any cell or file name of somebody else's. Line ends and tabs stay. What a
    name holds that is no letter (bytes of another encoding) is spelled out too, so that it can be
    printed and written anywhere.
    """
    return _STEERS.sub(lambda sign: _spelled(sign[0]), text)


def _spelled(sign: str) -> str:
    code = ord(sign)
    if 0xDC80 <= code <= 0xDCFF:  # a byte that is no letter, as Python keeps it in file names
        code -= 0xDC00
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing seen in a sheet: where it is, what it is and what to do.

    Parameters
    ----------
    level : {"error", "warning", "note"}
        An error makes a row unusable; a warning wants a look; a note only tells.
    rule : str
        Short name of the rule, such as ``count-rises``.
    what : str
        What is wrong, in a keeper's words.
    remedy : str
        What to do about it.
    file : str
        File name inside the study folder; blank when it belongs to no file.
    tab : str
        Tab of a workbook; blank for other files.
    row : int
        Row (line) in the file, counted from 1 with the headings; 0 when it belongs to no row.
    column : str
        Column by its name in the contract, or the heading as typed.
    founding : str
        The founding it belongs to; blank when it belongs to none.
    """

    level: Level
    rule: str
    what: str
    remedy: str
    file: str = ""
    tab: str = ""
    row: int = 0
    column: str = ""
    founding: str = ""

    @property
    def where(self) -> str:
        """The place as one would say it: ``checks.csv, row 7, queens_alive``."""
        place = f"{self.file}, tab {self.tab}" if self.tab else self.file
        parts = [place, f"row {self.row}" if self.row else "", self.column]
        return printable(", ".join(part for part in parts if part))

    def __str__(self) -> str:
        """Say where, what and what to do in one line."""
        where = f"{self.where}: " if self.where else ""
        return printable(f"{where}{self.what} {self.remedy}".strip())


class CohortError(Exception):
    """A known fault. Its text is one plain message for the person at the keyboard.

    Catch it and no other: a traceback of any other kind is a bug.

    Examples
    --------
    >>> import cohort
    >>> try:
    ...     cohort.read_study("my-stduy")
    ... except cohort.CohortError as fault:
    ...     print(fault)
    There is no folder my-stduy. Look at the spelling, or start one with: cohort begin
    """

    def __str__(self) -> str:
        """Say it; signs that steer a terminal are spelled out."""
        return printable(super().__str__())


class StudyError(CohortError):
    """A folder, a setting or a request that cannot be used.

    Examples
    --------
    >>> import cohort
    >>> try:
    ...     cohort.read_study("data/demo").only(genus="Lassius")
    ... except cohort.StudyError as fault:
    ...     print(fault)
    No founding has 'Lassius' in genus. Did you mean 'Lasius'?
    """


class SheetError(CohortError):
    """Errors in the sheets of a study.

    Parameters
    ----------
    findings : iterable of Finding
        All findings, not only the errors; a sequence is kept as it is.
    message : str, optional
        Told instead of the message made from the findings.

    Attributes
    ----------
    findings : sequence of Finding
        Each with ``level``, ``rule``, ``file``, ``row``, ``column``, ``what`` and ``remedy``.

    Examples
    --------
    >>> import cohort, pandas as pd
    >>> F = pd.DataFrame({"founding": ["a"], "genus": ["Lasius"], "queens": [0],
    ...                   "started": ["2026-07-04"]})
    >>> try:
    ...     cohort.study_from(F)
    ... except cohort.SheetError as fault:
    ...     print(fault.findings[0].where)
    foundings, row 1, queens
    """

    def __init__(self, findings: Iterable[Finding], message: str = "") -> None:
        kept = findings if isinstance(findings, Sequence) else tuple(findings)
        self.findings: Sequence[Finding] = kept
        super().__init__(message or self._message())

    def _message(self) -> str:
        first: list[Finding] = []
        count = 0
        for finding in self.findings:
            if finding.level == "error":
                count += 1
                if count <= _TOLD:
                    first.append(finding)
        if not first:
            return "The sheets cannot be used."
        if count == 1:
            return str(first[0])
        shown = [f"  {error}" for error in first]
        more = [f"  ... and {count - _TOLD} more"] if count > _TOLD else []
        return "\n".join([f"{count} errors in the sheets:", *shown, *more])


class GateError(CohortError):
    """A fit that has not settled.

    Parameters
    ----------
    message : str
        What is said to the person.
    diagnosis : mapping
        The numbers behind it, as written to ``diagnosis.json``.

    Attributes
    ----------
    diagnosis : dict

    Examples
    --------
    `cohort.compare` does not raise it, but says so in ``results.settled``; whoever asks for a
    sentence of what did not settle meets it.

    >>> import cohort
    >>> fault = cohort.GateError("The chains disagree.", {"rhat": 1.2})
    >>> fault.diagnosis["rhat"]
    1.2
    """

    def __init__(self, message: str, diagnosis: Mapping[str, Any]) -> None:
        self.diagnosis: dict[str, Any] = dict(diagnosis)
        super().__init__(message)
