"""Every table a command or script writes, column by column.

What comes in: nothing. What goes out: `WRITTEN`. The writer and the reader in
`cohort.sheets.written` go by it, and the column dictionary of ``data/README.md`` is made from it.
The sheets of a study are not in it: their contract is `cohort.terms.contract`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cohort.terms.written import ahead, kept, opinion, results
from cohort.terms.written.shape import Cell, Dtype, Written

__all__ = ["WRITTEN", "Cell", "Dtype", "Written"]

WRITTEN: Mapping[str, Written] = MappingProxyType(
    {
        table.name: table
        for room in (results, opinion, kept, ahead)
        for table in vars(room).values()
        if isinstance(table, Written)
    }
)
"""Every written table by name."""
