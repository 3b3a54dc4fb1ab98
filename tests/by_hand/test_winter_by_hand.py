"""A pair, and a queen caught in autumn, taken through winter rest on paper.

**A pair, one of whom is dead in spring.** Two queens go in on day 0 and are both there on day 40.
From day 50 to day 150 they rest in the cold; on day 160 one is left. No worker was ever seen, and
say none could come (no queen was mated).

A lone queen dies at h = .004 a day, two together at 1.5 h each. In the cold a lone queen dies at
.5 h = .002, and of two each at twice that, .004. One of two died, so the hazard of a death was

    10 warm days: 2 x .006 = .012,   100 cold ones: 2 x .004 = .008,   10 warm ones: .012

and the other then lived alone, at .004 in the warm and .002 in the cold. When did she die?

1. *In autumn*, u days after the count: int_0^10 .012 exp(-.012 u) exp(-.004 (10 - u)) du
   = .012 / .008 x (exp(-.04) - exp(-.12)) = 1.5 x (.960789 - .886920) = .110804.
   The other lives through winter and ten days of spring: exp(-.2) exp(-.04) = .786628.
   Together .087161.
2. *In winter*: both lived through autumn, exp(-.12) = .886920; then
   int_0^100 .008 exp(-.008 u) exp(-.002 (100 - u)) du = .008 / .006 x (exp(-.2) - exp(-.8))
   = 1.333333 x (.818731 - .449329) = .492536; and ten days alone, exp(-.04) = .960789.
   Together .419711.
3. *In spring*: both lived through autumn and winter, exp(-.12) exp(-.8) = .398519; then as in 1,
   .110804. Together .044157.

The sum is .551030. Before that both lived for 40 days: exp(-.48) = .618783. So the chance of what
was written is .340968.

(Had the ratio of summer, 1.5, held in the cold too, both would die at 2 x .003 = .006 there: 2.
would be .345015 and 3. .053934, and the chance would be another, .300797.)

**A queen caught in autumn.** She goes in on day 0, into the cold from day 20 to day 140, and is
there without workers on day 150 and with workers on day 170. By the clock that stands still in the
cold these are days 30 and 50. She dies at .004 a day in the warm, with workers too, at .002 in the
cold: she lived with chance exp(-.004 x 50 - .002 x 120) = exp(-.44) = .644036. Her first worker
comes after log-normal days with median 42 and SD .2 of the log, if she is mated (.9):
F(50) - F(30) = Phi(.871767) - Phi(-1.682361) = .808332 - .046249 = .762083.
Together .9 x .762083 x .644036 = .441728.

By the calendar a first worker between day 150 and day 170 would be six SDs late.

**How many such foundings are colonies on day 170?** Those that are mated, whose clock rang by warm
day 50, and that live: .9 x .808332 x .644036 = .468536.
"""

import dataclasses
import math

import pytest
from by_rows import Rates
from scenes import marginal, packed_sets, tables_of

from cohort.outcomes import outcomes
from cohort.outcomes.known import known_draws
from cohort.outcomes.quantities import Key
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.questions import SEEN

PAIR = (2, ((40.0, 2, 0), (160.0, 1, 0)))
BARREN = Rates(level1=0.004, ratio1=1.5, phi=0.0, winter=0.5, winter_company=2.0)
AUTUMN = (1, ((150.0, 1, 0), (170.0, 1, 1)))
QUEEN = Rates(
    level1=0.004, level2=0.004, log_day=math.log(42.0), tau=0.2, phi=0.9, winter=0.5
)  # fmt: skip


def chance(founding, rates, winter):
    return math.exp(marginal(tables_of(packed_sets([founding], winters=(winter,))), rates)[0])


def test_the_pair():
    assert chance(PAIR, BARREN, (50.0, 150.0)) == pytest.approx(0.340968, abs=2e-6)
    same = BARREN.but(winter_company=1.5)
    assert chance(PAIR, same, (50.0, 150.0)) == pytest.approx(0.300797, abs=2e-6)


def test_the_queen_caught_in_autumn():
    assert chance(AUTUMN, QUEEN, (20.0, 140.0)) == pytest.approx(0.441728, abs=2e-5)
    late = math.exp(marginal(tables_of(packed_sets([AUTUMN])), QUEEN)[0])
    assert late < 1e-8


def test_the_colony_she_makes():
    truth = GenusTruth(
        log_hazard=math.log(0.004), log_hazard_workers=math.log(0.004),
        log_median_day=math.log(42.0), within_days=0.2, mated=0.9, frailty=0.0,
        winter=math.log(0.5),
    )  # fmt: skip
    draws = dataclasses.replace(known_draws([Truth({"Lasius": truth})]), winter=(20.0, 120.0))
    values = outcomes(draws, (1,), 170).values
    got = values[Key("colony", "chance_per_founding", 1, 170, SEEN)][0, 0]
    assert got == pytest.approx(0.468536, abs=5e-5)
