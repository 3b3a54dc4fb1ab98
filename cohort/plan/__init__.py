"""How to divide queens into foundings: the ways up to a largest group, with their chances.

Comes in: a number of queens, a kind and the draws a plan stands on. Goes out: a frozen `Plan`
(one row per division). Never: a sampler; a recommendation beyond what the numbers say.
"""

from cohort.plan.plan import Plan, plan

__all__ = ["Plan", "plan"]
