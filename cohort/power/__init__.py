"""How many foundings a question needs: seasons simulated from a known truth and compared again.

Comes in: a `Wish` (how many, divided how, what is true). Goes out: a frozen `Power`. Never:
imports a sampler outside the functions that fit.
"""

from cohort.power.run import Power, power
from cohort.power.wish import Wish

__all__ = ["Power", "Wish", "power"]
