"""Pictures and the page, asked of a comparison or of results as methods.

Comes in: whatever has results. Goes out: what `cohort.face` makes of it. Never: a number of its
own.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from cohort.base import doors

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Printed:
    """Gives a class its pictures and its page."""

    def figure(self, name: str, *, width: int = 175) -> Figure:
        """One picture, without a fit.

        Parameters
        ----------
        name : str
            Such as ``both_ways``; a wrong name lists all.
        width : int
            Millimetres: 85 or 175.

        Returns
        -------
        matplotlib Figure

        Raises
        ------
        StudyError
            See `cohort.figure`.

        Examples
        --------
        >>> import cohort
        >>> drawn = cohort.read_results("out").figure("both_ways")
        >>> len(drawn.axes) > 0
        True
        """
        drawn: Figure = doors.call("figure", self, name, width=width)
        return drawn

    def newsletter(self, folder: str | Path, **how: Any) -> list[Path]:
        """Write the page with all numbers behind it, without a fit; the folder then holds no more.

        Parameters
        ----------
        folder : path
        **how
            ``language``, ``paper`` and ``pages``, see `cohort.write_newsletter`.

        Returns
        -------
        list of Path
            Files written, the page first.

        Raises
        ------
        StudyError
            See `cohort.write_newsletter`.

        Examples
        --------
        >>> import cohort
        >>> cohort.read_results("out").newsletter("page", language="xx")
        Traceback (most recent call last):
        ...
        cohort.base.errors.StudyError: ...
        """
        paths: list[Path] = doors.call("write_newsletter", self, folder, **how)
        return paths
