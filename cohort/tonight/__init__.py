"""What to do with the queens of one kind tonight.

Comes in: a genus or kind, how many queens, which are set aside, the draws of a plan. Goes out: a
frozen `Tonight`: how we would divide them and why, the lots. Never: a formula of its own; chances
are those of `cohort.plan`, lots those of `cohort.desk.allot`.
"""

from cohort.tonight.night import Tonight, tonight

__all__ = ["Tonight", "tonight"]
