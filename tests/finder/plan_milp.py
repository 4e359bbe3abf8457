"""The planning problem as an integer programme for SciPy's MILP solver (HiGHS).

Written apart from the planner on purpose: page costs come from matching each run of beats
page by page, rules are constraints, and nothing is shared with the search that is checked.
"""

from __future__ import annotations

import itertools

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from panelscan.finder.beat_match import match_page
from panelscan.finder.neighbours import SAME_WITHIN, facing_costs, following_costs, side_distances
from panelscan.finder.plan_types import follows_turn


class _Rows:
    """Constraint rows ``low <= a x <= high`` collected one by one."""

    def __init__(self):
        self.entries, self.low, self.high = [], [], []

    def add(self, terms, low, high):
        row = len(self.low)
        self.entries += [(row, column, value) for column, value in terms]
        self.low.append(low)
        self.high.append(high)

    def matrix(self, columns):
        rows, cols, values = zip(*self.entries, strict=True)
        return coo_array((values, (rows, cols)), shape=(len(self.low), columns)).tocsr()


def optimum(beats, shelf, options, weights):
    """Least cost of any plan with exactly ``options.pages`` pages, or infinity."""
    pages, count, grids = options.pages, len(beats), len(shelf)
    variables, costs = [], []
    for g, s in itertools.product(range(grids), range(count)):
        for e in range(1, min(2 * int(shelf.panel_count[g]), count - s) + 1):
            cost, _ = match_page(beats[s : s + e], shelf, g, weights)
            if not np.isfinite(cost):
                continue
            for p in range(pages):
                number = options.first_page + p
                turn = follows_turn(number)
                if (p == 0) != (s == 0) or (p == pages - 1) != (s + e == count):
                    continue
                if beats[s].reveal and not turn:
                    continue
                if p and turn and beats[s - 1].keep_with_next:
                    continue
                variables.append((p, s, e, g))
                costs.append(cost)
    if not variables:
        return np.inf
    by_page = {p: [i for i, v in enumerate(variables) if v[0] == p] for p in range(pages)}
    uses = {
        (p, g): [(i, 1.0) for i in by_page[p] if variables[i][3] == g]
        for p in range(pages)
        for g in range(grids)
    }
    rows = _Rows()
    for p in range(pages):
        if not by_page[p]:
            return np.inf
        rows.add([(i, 1.0) for i in by_page[p]], 1, 1)
    for p, b in itertools.product(range(pages - 1), range(count + 1)):
        ends = [(i, 1.0) for i in by_page[p] if sum(variables[i][1:3]) == b]
        starts = [(i, -1.0) for i in by_page[p + 1] if variables[i][1] == b]
        if ends or starts:
            rows.add(ends + starts, 0, 0)
    largest, mean = side_distances(shelf)
    facing, following = facing_costs(shelf), following_costs(mean)
    total = len(variables)
    for p, q in itertools.combinations(range(pages), 2):
        for g, h in itertools.product(range(grids), repeat=2):
            terms = uses[p, g] + uses[q, h]
            if q - p <= options.apart and largest[g, h] <= SAME_WITHIN:
                rows.add(terms, 0, 1)
            elif q - p == 1:
                faces = not follows_turn(options.first_page + q)
                cost = following[g, h] + (facing[g, h] if faces else 0)
                if not np.isfinite(cost):
                    rows.add(terms, 0, 1)
                elif cost > 0:
                    rows.add([*terms, (total, -1.0)], -np.inf, 1)
                    costs.append(float(cost))
                    total += 1
    found = milp(
        np.array(costs),
        constraints=LinearConstraint(rows.matrix(total), rows.low, rows.high),
        integrality=np.r_[np.ones(len(variables)), np.zeros(total - len(variables))],
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 1e-6},
    )
    return float(found.fun) if found.success else np.inf
