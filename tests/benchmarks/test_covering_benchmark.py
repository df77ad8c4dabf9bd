"""What would be lost by a general location model in the place of the maximum-capture plan?

The models are spopt's (Feng, Gaboardi and others 2022, "spopt: a python package for solving spatial
optimization problems in PySAL", Journal of Open Source Software 7:3330, from memory): p-median
(Hakimi 1964), which credits each source's best box only, and maximal covering (Church and ReVelle
1974), which counts a source as served within a radius. Their plans are judged by the capture they
give in our model, so this shows what the models differ in, not which of them bees follow.
"""

import time

import numpy as np
import pytest

from swarmwatch.placement.capture import maximum_capture

CAVITIES_PER_KM2 = 3.0
RADIUS_KM = (0.6, 1.2, 2.4)  # half, once and twice the median distance of the kernel below


def neighbourhood(sources, sites, seed):
    """Sources and sites on 6 x 6 km, log-normal dispersal (median 1.2 km), qualities 1 to 3."""
    rng = np.random.default_rng(seed)
    homes, places = rng.uniform(0, 6, (sources, 2)), rng.uniform(0, 6, (sites, 2))
    away = np.maximum(np.hypot(*(homes[:, None] - places[None]).transpose(2, 0, 1)), 1e-3)
    z = np.log(away / 1.2) / 0.9
    density = np.exp(-(z**2) / 2) / (away * 0.9 * np.sqrt(2 * np.pi)) / (2 * np.pi * away)
    return rng.uniform(0.2, 3, sources), density * rng.uniform(1, 3, sites), away


def caught(weights, utilities, chosen):
    total = utilities[:, list(chosen)].sum(axis=1)
    return float(weights @ (total / (CAVITIES_PER_KM2 + total)))


def plan_of(model):
    import pulp

    began = time.perf_counter()
    model.solve(pulp.PULP_CBC_CMD(msg=False))
    chosen = [i for i, variable in enumerate(model.fac_vars) if variable.varValue > 0.5]
    return chosen, time.perf_counter() - began


def loss(weights, utilities, best, chosen):
    return 1 - caught(weights, utilities, chosen) / best


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # spopt's and pulp's own
@pytest.mark.parametrize(("sources", "sites", "boxes"), [(60, 200, 5), (60, 200, 10)])
def test_no_covering_or_median_plan_catches_more(benchmark, sources, sites, boxes):
    from spopt.locate import MCLP, PMedian

    weights, utilities, away = neighbourhood(sources, sites, seed=5)
    outside = np.full(sources, CAVITIES_PER_KM2)
    result = benchmark(maximum_capture, weights, utilities, outside, count=boxes)
    assert result.proved
    asked = f"{sources} sources, {sites} sites, {boxes} boxes"
    lines = [f"{asked}: proved in {result.seconds:.3f} s, certified within {result.gap:.1e}"]
    unserved = 1 - utilities / (CAVITIES_PER_KM2 + utilities)
    models = {"p-median": PMedian.from_cost_matrix(unserved, weights, p_facilities=boxes)}
    for radius in RADIUS_KM:
        models[f"covering within {radius} km"] = MCLP.from_cost_matrix(
            away, weights, service_radius=radius, p_facilities=boxes
        )
    for name, model in models.items():
        chosen, seconds = plan_of(model)
        assert len(chosen) <= boxes
        lost = loss(weights, utilities, result.value, chosen)
        assert lost >= -1e-9
        lines.append(
            f"{name}: {lost:.1%} of the catches lost, {seconds:.3f} s, "
            f"{seconds / max(result.seconds, 1e-3):.0f} times as long"
        )
    print("\n" + "\n".join(lines))  # noqa: T201
