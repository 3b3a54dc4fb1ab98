"""A study sent as one file, and what was sent taken into another study.

Comes in: studies as folders, or packed. Goes out: a packed study; rows added to a study, conflicts
told. Never: a row of a study changed, or a place or a note that nobody asked to send.
"""

from cohort.desk.share.compare import Conflict
from cohort.desk.share.merge import Merged, merge
from cohort.desk.share.pack import Packed, pack
from cohort.desk.share.sent import Sent, read_sent

__all__ = ["Conflict", "Merged", "Packed", "Sent", "merge", "pack", "read_sent"]
