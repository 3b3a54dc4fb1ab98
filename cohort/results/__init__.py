"""The output folder: which files it has, written whole, read again with the same types.

Comes in: frames and draws of a comparison. Goes out: the files of the contract, and frozen
`Results`, which nothing but this room reads from a folder. Never: a fit.
"""

from cohort.results.drawn_tree import tree_of
from cohort.results.files import (
    OURS,
    DamagedError,
    NotThereError,
    carry_over,
    check_folder,
    mark_of,
)
from cohort.results.folder import (
    Results,
    draws_of,
    fill,
    made,
    read,
    read_draws,
    versions,
    write,
)
from cohort.results.origin import Made, made_of, to_make

__all__ = [
    "OURS",
    "DamagedError",
    "Made",
    "NotThereError",
    "Results",
    "carry_over",
    "check_folder",
    "draws_of",
    "fill",
    "made",
    "made_of",
    "mark_of",
    "read",
    "read_draws",
    "to_make",
    "tree_of",
    "versions",
    "write",
]
