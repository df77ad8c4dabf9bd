"""What conflicts cost: prices for groups of sites that bar each other, from a linear programme."""

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy import sparse
from scipy.optimize import linprog

from swarmwatch.placement._capture_problem import Floats, Ints, Problem
from swarmwatch.placement._capture_tree import Prices

# numerical settings, not trade numbers
_COLUMNS = 300
_MORE_COLUMNS = 100
_ROUNDS = 6
_CLOSE = 1e-6
_TANGENTS = (0.0, 0.5, 1.0, 2.0)
# known to take sparse matrices, whatever its type stubs say
_linprog: Callable[..., Any] = linprog


def conflict_prices(
    problem: Problem,
    *,
    scores: Floats,
    totals: Floats,
    late: Callable[[], bool],
) -> Prices | None:
    """Return Lagrange multipliers of the conflicts, or None when the solver found none.

    Parameters
    ----------
    problem
        With conflicts.
    scores
        (sites,) what each site is worth at the margin; the programme starts from the best.
    totals
        (rows,) t of a good set, where the first tangents are laid.
    late
        Says when to stop; prices are valid whenever it stops, only less tight.

    Notes
    -----
    Outer approximation: maximise ``sum w theta`` with tangents ``theta <= g(t') + g'(t') (t -
    t')``, one row ``sum x <= 1`` per clique and ``sum x <= count``; tangents are added at each
    answer and columns by their reduced price. The prices only steer: the bound is recomputed
    from them over all sites.
    """
    best = np.argsort(-scores, kind="stable")
    columns = np.sort(best[:_COLUMNS])
    points = [problem.start + share * (totals - problem.start) for share in _TANGENTS]
    prices: Prices | None = None
    for _ in range(_ROUNDS):
        cliques = clique_cover(problem, columns, scores)
        solved = _solve(problem, columns, cliques, points)
        if solved is None:
            return prices
        x, y, slopes, optimum = solved
        prices = _as_prices(problem, cliques, y)
        t = problem.start + x @ problem.shares[columns]
        reduced = problem.shares @ slopes - prices.of_site
        cut = np.sort(reduced[columns])[-min(problem.count, columns.size)]
        missing = np.setdiff1d(np.flatnonzero(reduced > max(cut, 0.0)), columns)
        if (not missing.size and optimum - problem.worth(t) <= _CLOSE * optimum) or late():
            break
        points.append(t)
        dearest = missing[np.argsort(-reduced[missing], kind="stable")][:_MORE_COLUMNS]
        columns = np.union1d(columns, dearest)
    return prices


def clique_cover(problem: Problem, columns: Ints, scores: Floats) -> list[Ints]:
    """Return groups of mutually conflicting sites that cover every conflict among `columns`.

    Each group is grown as far as it goes, over the columns first, then over all sites: a larger
    group bounds better.
    """
    near = {int(i): set(problem.neighbours[i].tolist()) for i in columns}
    inside = set(near)
    rank = {int(s): r for r, s in enumerate(np.argsort(-scores, kind="stable"))}
    covered: set[tuple[int, int]] = set()
    cliques: list[Ints] = []
    for first in sorted(near, key=rank.__getitem__):
        for second in sorted(near[first] & inside, key=rank.__getitem__):
            if (first, second) in covered:
                continue
            clique = [first, second]
            common = near[first] & near[second]
            while common:
                new = min(common & inside or common, key=rank.__getitem__)
                clique.append(new)
                if new not in near:
                    near[new] = set(problem.neighbours[new].tolist())
                common &= near[new]
            covered.update((a, b) for a in clique for b in clique)
            cliques.append(np.asarray(sorted(clique), dtype=np.intp))
    return cliques


def _as_prices(problem: Problem, cliques: list[Ints], y: Floats) -> Prices:
    of_site = np.zeros(problem.size)
    for clique, price in zip(cliques, y, strict=True):
        of_site[clique] += price
    return Prices(of_site=of_site, constant=float(y.sum()))


def _solve(
    problem: Problem, columns: Ints, cliques: list[Ints], points: list[Floats]
) -> tuple[Floats, Floats, Floats, float] | None:
    """Solve the programme; return x (columns,), y (cliques,), row slopes (rows,), optimum."""
    shares = problem.shares[columns]
    m, rows = shares.shape
    # each t is scaled by its largest reachable value: the solver drops coefficients below 1e-9
    reach = problem.start + np.sort(shares, axis=0)[-problem.count :].sum(axis=0)
    reach = np.where(reach > 0, reach, 1.0)
    total_weight = float(problem.weights.sum())
    weights = problem.weights / total_weight
    balance = sparse.hstack(
        [
            sparse.csr_array(-(shares / reach).T),
            sparse.identity(rows, format="csr"),
            sparse.csr_array((rows, rows)),
        ]
    )
    result = _linprog(
        np.concatenate([np.zeros(m + rows), -weights]),
        A_ub=sparse.csr_array(
            sparse.vstack([_limits(columns, cliques, rows), _tangents(m, reach, points)])
        ),
        b_ub=np.concatenate(
            [[float(problem.count)], np.ones(len(cliques)), *((p / (1 + p)) ** 2 for p in points)]
        ),
        A_eq=sparse.csr_array(balance),
        b_eq=problem.start / reach,
        bounds=np.column_stack([np.zeros(m + 2 * rows), [1.0] * m + [np.inf] * (2 * rows)]),
        method="highs",
    )
    if result.status != 0:
        return None
    y = np.maximum(-result.ineqlin.marginals[1 : 1 + len(cliques)], 0.0) * total_weight
    slopes = np.maximum(-result.eqlin.marginals / reach, 0.0) * total_weight
    return np.clip(result.x[:m], 0.0, 1.0), y, slopes, -float(result.fun) * total_weight


def _limits(columns: Ints, cliques: list[Ints], rows: int) -> sparse.csr_array:
    place = {int(c): i for i, c in enumerate(columns)}
    at = [list(range(columns.size))]
    at += [[place[int(s)] for s in clique if int(s) in place] for clique in cliques]
    lengths = [len(a) for a in at]
    row = np.repeat(np.arange(len(at)), lengths)
    column = np.concatenate([np.asarray(a, dtype=np.intp) for a in at])
    shape = (len(at), columns.size + 2 * rows)
    return sparse.csr_array((np.ones(column.size), (row, column)), shape=shape)


def _tangents(m: int, reach: Floats, points: list[Floats]) -> sparse.csr_array:
    """Return rows ``theta - g'(p) reach tau <= g(p) - g'(p) p = (p / (1 + p))^2``."""
    rows = reach.size
    blocks = [
        sparse.hstack(
            [
                sparse.csr_array((rows, m)),
                sparse.diags_array(-reach / (1.0 + p) ** 2),
                sparse.identity(rows, format="csr"),
            ]
        )
        for p in points
    ]
    return sparse.csr_array(sparse.vstack(blocks))
