"""The founding likelihood as plain vectorised PyTensor: every branch for every row, no kernel.

The reference the compiled kernel is held against, and the slow side of the bench. It reads the
same packed tables; delayed entries (records beyond the foundings) are not in it. Foundings with a
shelf log take their days from the log itself, day by day, without the rows of thresholds.
"""

from __future__ import annotations

import numpy as np
import pytensor.tensor as pt
from scipy.special import comb

from cohort.likelihood import layout as at

X, W = np.polynomial.legendre.leggauss(20)
X, W = 0.5 * (X + 1), 0.5 * W
TINY = 1e-290


def step(n, m, H, rho, theta):
    """Chance of n -> m queens for arrays of rows: all branches, then a choice."""
    v, e = -pt.expm1(-H), pt.exp(-H)
    lost = np.maximum(n - m, 0)
    binomial = comb(n, m) * pt.exp(-m * H) * v**lost
    u = H[:, None] * X
    pair = (n * (n - 1))[:, None]
    end = pair * (-pt.expm1(-u)) ** np.maximum(n - 2, 0)[:, None] * pt.exp(-2 * u)
    fade = -pt.expm1(-rho[:, None] * (H[:, None] - u))
    gone = H * (end * fade * W).sum(axis=1)
    alive = H * (end * (1 - fade) * W).sum(axis=1)
    ended = v ** np.maximum(n - 1, 0) * (v + n * e)
    one = (1 - theta) * alive
    none = theta * ended + (1 - theta) * gone
    company = pt.switch(m >= 2, binomial, pt.switch(np.equal(m, 1), one, none))
    lone = pt.switch(np.equal(m, 1), pt.exp(-rho * H), -pt.expm1(-rho * H))
    out = pt.switch(n >= 2, company, pt.switch(np.equal(n, 1), lone, 1.0 * np.equal(m, 0)))
    return pt.switch(m > n, 0.0, out)


def assembled(effects, shared, added, z, who):
    """``par`` of the kernel from what `study_by_genus` takes, symbolic."""
    genus, size, watched = who.T
    multi = (size >= 2).astype(float)
    doublings = np.log2(np.maximum(size, 2) / 2)
    here, lasting, mated = effects[:, genus], shared[at.S_LASTING], shared[at.S_MATED]
    together = (here[1] + shared[at.S_SIZE_STEP] * doublings) * multi
    before, after, later, surer_mated = (added[i] for i in range(4))
    logit = pt.log(mated / (1 - mated)) + surer_mated
    mated, surer = pt.sigmoid(logit), pt.sigmoid(logit + shared[at.S_SEEN])
    fertile = 1 - (1 - mated) ** (size - watched) * (1 - surer) ** watched
    level = here[0] + before + lasting * together
    rivalry = here[3] + shared[at.S_SIZE_STEP_RIVALRY] * doublings
    rest = [here[2] + after, rivalry, pt.sigmoid(here[4])]
    day = here[5] + shared[at.S_MULTI_DAYS] * multi + later
    warm = shared[at.S_THRESHOLD] + 0.0 * z
    return pt.stack([level, (1 - lasting) * together, *rest, day, fertile, z, warm], axis=1)


def owners(records, nodes, rows):
    """Record of every node; record and node of every row (-1: the row belongs to no node)."""
    of_node = np.zeros(len(nodes), int)
    row_record = np.zeros(len(rows), int)
    row_node = np.full(len(rows), -1)
    row_none = np.zeros(len(rows), bool)
    for i, r in enumerate(records.astype(int)):
        of_node[r[at.NODES_FROM] : r[at.NODES_TO]] = i
        row_record[r[at.BASE_FROM] : r[at.BASE_TO]] = i
        row_record[r[at.NONE_FROM] : r[at.NONE_TO]] = i
        row_none[r[at.NONE_FROM] : r[at.NONE_TO]] = True
    for q, node in enumerate(nodes.astype(int)):
        span = slice(node[at.ROWS_FROM], node[at.ROWS_TO])
        row_node[span], row_record[span] = q, of_node[q]
    return of_node, row_record, row_node, row_none


def degree_days(low, high, threshold):
    """Degree-days of each day (single sine) at a symbolic threshold."""
    mean, half = (low + high) / 2, (high - low) / 2
    turn = pt.arcsin(pt.clip((threshold - mean) / half, -1 + 1e-12, 1 - 1e-12))
    part = ((mean - threshold) * (np.pi / 2 - turn) + half * pt.cos(turn)) / np.pi
    over = pt.switch(pt.ge(low, threshold), mean - threshold, part)
    return pt.switch(pt.le(high, threshold), 0.0, over)


def on_clocks(log_days, owner, par, clocks):
    """Logs of days on the clock of each founding, where it has one."""
    out = pt.as_tensor_variable(log_days)
    for f, clock in enumerate(clocks):
        mine = np.flatnonzero((owner == f) & (log_days > -700))
        if clock is None or not len(mine):
            continue
        threshold = par[f, at.THRESHOLD]
        days = np.exp(log_days[mine])
        weight = np.clip(days[:, None] - np.arange(len(clock.low))[None, :], 0, 1)
        warm = pt.dot(weight, degree_days(clock.low, clock.high, threshold))
        out = pt.set_subtensor(out[mine], pt.log(warm / (clock.reference - threshold)))
    return out


def plain_loglik(par, shared, records, rows, nodes, clocks=()):
    """Symbolic log-likelihood; ``par`` and ``shared`` symbolic, tables numpy arrays."""
    of_node, row_record, row_node, row_none = owners(records, nodes, rows)
    tilt = shared[at.SIGMA] * par[:, at.FRAILTY]
    lone1 = pt.exp(par[:, at.HAZARD1] + tilt)[:, None] * pt.exp(shared[at.STEPS1 : at.STEPS2])
    level2 = pt.exp(par[:, at.HAZARD2] + shared[at.LOADING] * tilt)
    lone2 = level2[:, None] * pt.exp(shared[at.STEPS2 : at.WITHIN_DAYS])
    ratio1, ratio2 = pt.exp(par[:, at.TOGETHER]), pt.exp(par[:, at.RIVALRY])
    company1, company2 = lone1 * ratio1[:, None], lone2 * ratio2[:, None]

    def quiet1(table, company, lone, of):
        a = (table[:, company : company + at.N1] * company1[of]).sum(axis=1)
        return -a - (table[:, lone : lone + at.N1] * lone1[of]).sum(axis=1)

    def quiet2(table, company, lone, of):
        a = (table[:, company : company + at.N2] * company2[of]).sum(axis=1)
        return -a - (table[:, lone : lone + at.N2] * lone2[of]).sum(axis=1)

    n, m = rows[:, at.BEFORE], rows[:, at.AFTER]
    some = np.equal(m, getattr(at, "SOME", -1.0))
    early = np.equal(rows[:, at.PHASE], 0)
    days = rows[:, at.EXPOSURE :]
    h1 = (days * company1[row_record]).sum(axis=1)
    h2 = (days[:, : at.N2] * company2[row_record]).sum(axis=1)
    H = pt.switch(early, h1, h2)
    rho = pt.switch(early, 1 / ratio1[row_record], 1 / ratio2[row_record])
    theta = pt.switch(early, 0.0, par[row_record, at.LAST_FIGHT])
    gone = step(n, np.where(some, 0.0, m), H, rho, theta)
    row_log = pt.log(pt.maximum(pt.switch(some, 1 - gone, gone), TINY))

    def rows_of(count, index, mask):
        where = np.zeros((count, len(rows)))
        where[index[mask], np.flatnonzero(mask)] = 1.0
        return pt.dot(where, row_log)

    everyone = np.arange(len(records))
    base = quiet1(records, at.BASE_COMPANY, at.BASE_LONE, everyone)
    base += rows_of(len(records), row_record, (row_node < 0) & ~row_none)
    tau, mean, phi = shared[at.WITHIN_DAYS], par[:, at.LOG_DAY], par[:, at.FERTILE]
    end = on_clocks(records[:, at.LOG_END], everyone, par, clocks)
    start = on_clocks(nodes[:, at.LOG_FROM], of_node, par, clocks)
    stop = on_clocks(nodes[:, at.LOG_TO], of_node, par, clocks)
    late = 0.5 * pt.erfc((end - mean) / tau / np.sqrt(2))
    none = pt.log(pt.maximum((1 - phi) + phi * late, TINY))
    none += quiet1(records, at.NONE_COMPANY, at.NONE_LONE, everyone)
    none += rows_of(len(records), row_record, row_none)

    a = (start - mean[of_node]) / tau
    b = (stop - mean[of_node]) / tau
    right = 0.5 * (pt.erfc(a / np.sqrt(2)) - pt.erfc(b / np.sqrt(2)))
    left = 0.5 * (pt.erfc(-b / np.sqrt(2)) - pt.erfc(-a / np.sqrt(2)))
    path = pt.log(pt.maximum(pt.switch(a + b > 0, right, left), TINY))
    path += quiet1(nodes, at.COMPANY1, at.LONE1, of_node)
    path += quiet2(nodes, at.COMPANY2, at.LONE2, of_node)
    path += rows_of(len(nodes), row_node, row_node >= 0)
    split = nodes[:, at.LEAST] >= 0
    before = np.where(split, nodes[:, at.SPLIT_BEFORE], 1)
    after = np.where(split, nodes[:, at.SPLIT_AFTER], 1)
    least = np.maximum(nodes[:, at.LEAST], after)
    s1 = (nodes[:, at.SPLIT1 : at.SPLIT2] * company1[of_node]).sum(axis=1)
    s2 = (nodes[:, at.SPLIT2 : at.SPLIT2 + at.N2] * company2[of_node]).sum(axis=1)
    total = 0.0
    for c in range(int(before.max(initial=1)) + 1):
        cs = np.full(len(nodes), float(c))
        p1 = step(before, cs, s1, 1 / ratio1[of_node], 0.0 * s1)
        p2 = step(cs, after, s2, 1 / ratio2[of_node], par[of_node, at.LAST_FIGHT])
        total = total + pt.switch((cs >= least) & (cs <= before), p1 * p2, 0.0)
    path += pt.switch(split, pt.log(pt.maximum(pt.switch(split, total, 1.0), TINY)), 0.0)

    mask = of_node[None, :] == everyone[:, None]
    parts = pt.switch(mask, path[None, :] + pt.log(phi)[:, None], -np.inf)
    has_none = records[:, at.NONE] == 1
    parts = pt.concatenate([parts, pt.switch(has_none, none, -np.inf)[:, None]], axis=1)
    return (base + pt.logsumexp(parts, axis=1)).sum()
