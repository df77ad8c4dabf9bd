"""The proof that no set is better: fix sites by their scores, then branch and bound."""

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from swarmwatch.placement._capture_bound import Bound, Relaxation, tightest
from swarmwatch.placement._capture_problem import Flags, Floats, Ints, Problem

# numerical setting: a set that is better by less than this share is not looked for
TOLERANCE = 1e-9
_INTEGRAL = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Lagrange multipliers of conflicts: what each site pays (sites,), and what is given back."""

    of_site: Floats
    constant: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """The best set met, the bound that stands, and whether no better set can be left."""

    chosen: list[int]
    value: float
    bound: float
    finished: bool


@dataclass(order=True, slots=True)
class _Node:
    """Sites inside, sites still free, and the fractions of the free ones; best bound first."""

    rank: tuple[float, int]
    inside: Ints = field(compare=False)
    free: Ints = field(compare=False)
    fractions: Floats = field(compare=False)


def worth_beating(value: float, gap: float) -> float:
    """Return what a set must pass to be worth looking for: more than the gap above the best met."""
    return max(value * (1.0 + TOLERANCE), value / (1.0 - gap * (1.0 - TOLERANCE)))


def no_prices(problem: Problem) -> Prices:
    """Return prices of 0: conflicts are left out of the bound."""
    return Prices(of_site=np.zeros(problem.size), constant=0.0)


def relaxation_of(problem: Problem, prices: Prices, inside: Ints, free: Ints) -> Relaxation:
    """Return the fractional problem in which `inside` are chosen and only `free` may be."""
    return Relaxation(
        weights=problem.weights,
        shares=problem.shares[free],
        start=problem.totals(inside),
        count=problem.count - inside.size,
        prices=prices.of_site[free],
        constant=prices.constant - float(prices.of_site[inside].sum()),
    )


def reduced(bound: Bound, count: int, target: float) -> tuple[Flags, Flags]:
    """Return which sites no set above `target` holds, and which every such set holds.

    Leaving out a site of the `count` best scores costs the bound its lead over the next; taking
    one from outside costs the lead of the last. A site whose cost brings the bound to the target
    is settled.
    """
    scores = bound.scores
    order = np.argsort(-scores, kind="stable")
    top = np.zeros(scores.size, dtype=bool)
    top[order[:count]] = True
    top &= scores > 0
    last = max(float(scores[order[count - 1]]), 0.0) if count <= order.size else 0.0
    following = max(float(scores[order[count]]), 0.0) if count < order.size else 0.0
    out = ~top & (bound.value - (last - scores) <= target)
    must = top & (bound.value - (scores - following) <= target)
    return out, must


def prove(
    problem: Problem,
    prices: Prices,
    *,
    chosen: list[int],
    fractions: Floats,
    gap: float,
    late: Callable[[], bool],
) -> Proof:
    """Search for a set better than `chosen` until none is left, the gap is met or time is up.

    Parameters
    ----------
    problem
        What is to be maximised.
    prices
        Of conflicts; they make the bounds tighter and are valid at every node.
    chosen
        The best set known.
    fractions
        (sites,) a good fractional choice to start from.
    gap
        Stop when ``(bound - value) / bound`` is at or below it.
    late
        Says when time is up.
    """
    tree = _Tree(problem, prices, chosen, gap=gap, late=late)
    everything = np.arange(problem.size, dtype=np.intp)
    tree.open(np.zeros(0, dtype=np.intp), everything, fractions)
    while tree.nodes and not late():
        top = -tree.nodes[0].rank[0]
        if top <= tree.target:
            tree.nodes.clear()
            break
        tree.branch(heapq.heappop(tree.nodes))
    still_open = max((-n.rank[0] for n in tree.nodes), default=0.0)
    complete = not tree.nodes and tree.target <= worth_beating(tree.value, 0.0)
    return Proof(
        chosen=sorted(tree.chosen),
        value=tree.value,
        bound=max(tree.target, still_open),
        finished=complete,
    )


class _Tree:
    """The open nodes and the best set met so far."""

    def __init__(
        self,
        problem: Problem,
        prices: Prices,
        chosen: list[int],
        *,
        gap: float,
        late: Callable[[], bool],
    ) -> None:
        self.problem = problem
        self.prices = prices
        self.late = late
        self._gap = gap
        self.chosen = list(chosen)
        self.value = problem.worth(problem.totals(chosen))
        self.nodes: list[_Node] = []
        self._opened = 0

    @property
    def target(self) -> float:
        """A set must beat this to count as better."""
        return worth_beating(self.value, self._gap)

    def open(self, inside: Ints, free: Ints, fractions: Floats, *, parent: float = np.inf) -> None:
        """Bound a node; keep it if it may hold a better set. A child keeps its parent's bound."""
        count = self.problem.count - inside.size
        if count <= 0 or not free.size:
            self._offer(inside.tolist())
            return
        bound = tightest(
            relaxation_of(self.problem, self.prices, inside, free),
            _feasible(fractions, count),
            late=self.late,
            target=self.target,
        )
        if bound.value <= self.target:
            return
        order = free[np.lexsort((-bound.scores, -bound.fractions))]
        self._offer(_legal(self.problem, inside.tolist(), order.tolist()))
        out, must = reduced(bound, count, self.target)
        inside, keep = self._settle(inside, free, out, must)
        if keep is None:
            return
        self._opened += 1
        rank = (-min(bound.value, parent), self._opened)
        heapq.heappush(self.nodes, _Node(rank, inside, free[keep], bound.fractions[keep]))

    def _settle(
        self, inside: Ints, free: Ints, out: Flags, must: Flags
    ) -> tuple[Ints, Flags | None]:
        new = free[must]
        keep = ~(out | must)
        if self.problem.neighbours and new.size:
            counts = self.problem.conflict_counts(new.tolist())
            if counts[new].any():
                return inside, None
            keep &= counts[free] == 0
        return np.concatenate([inside, new]), keep

    def branch(self, node: _Node) -> None:
        """Split a node on one site: with it and without it."""
        count = self.problem.count - node.inside.size
        if count <= 0 or not node.free.size:
            self._offer(node.inside.tolist())
            return
        at = self._split_at(node)
        site = node.free[at]
        rest = np.ones(node.free.size, dtype=bool)
        rest[at] = False
        with_it = rest.copy()
        if self.problem.neighbours:
            with_it &= ~np.isin(node.free, self.problem.neighbours[site])
        for inside, keep in ((np.append(node.inside, site), with_it), (node.inside, rest)):
            self.open(inside, node.free[keep], node.fractions[keep], parent=-node.rank[0])

    def _split_at(self, node: _Node) -> int:
        split = np.minimum(node.fractions, 1.0 - node.fractions)
        if split.max() > _INTEGRAL:
            return int(split.argmax())
        held = np.flatnonzero(node.fractions > 1.0 / 2)
        if self.problem.neighbours and held.size:
            counts = self.problem.conflict_counts(node.free[held].tolist())
            clash = held[counts[node.free[held]] > 0]
            if clash.size:
                return int(clash[0])
        return int(node.fractions.argmax())

    def _offer(self, chosen: list[int]) -> None:
        value = self.problem.worth(self.problem.totals(chosen))
        if value > self.value:
            self.chosen, self.value = chosen, value


def _feasible(fractions: Floats, count: int) -> Floats:
    """Scale fractions so that they sum to the count at most."""
    total = float(fractions.sum())
    return fractions * (count / total) if total > count else fractions


def _legal(problem: Problem, inside: list[int], order: list[int]) -> list[int]:
    """Add sites in order as the count and the conflicts allow."""
    chosen = list(inside)
    blocked: set[int] = set()
    if problem.neighbours:
        for site in chosen:
            blocked.update(problem.neighbours[site].tolist())
    for site in order:
        if len(chosen) >= problem.count:
            break
        if site in blocked:
            continue
        chosen.append(site)
        if problem.neighbours:
            blocked.update(problem.neighbours[site].tolist())
    return chosen
