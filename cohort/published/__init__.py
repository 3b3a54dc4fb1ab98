"""What published experiments found on founding alone and together, with the source of each.

Comes in: a genus, and a species if known. Goes out: the findings of that genus or of its near kin,
in any language. Never: a chance, a number of a study of ours.
"""

from cohort.published.summary import Published, published
from cohort.published.table import Finding, findings
from cohort.published.words import found, sources

__all__ = ["Finding", "Published", "findings", "found", "published", "sources"]
