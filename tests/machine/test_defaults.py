"""Builds of which only sizes, fuel and a cooler are stated come out as the trade expects, and alike in all sizes."""

import pytest

from benchmarks.defaults_table import KINDS, RANGES, SIZES, both_engines, build_of_size, figures

FAST = "air at best power, kg/s per 100 kW"  # where the cycle is known to lie above: docs/defaults.md says why


@pytest.fixture(scope="module", params=range(len(KINDS)), ids=[title for title, *_ in KINDS])
def builds(request):
    pairs = [both_engines(build_of_size(*size[1:], request.param)) for size in SIZES]
    return [[figures(pair[engine]) for pair in pairs] for engine in (0, 1)]


@pytest.mark.parametrize("engine", [0, 1], ids=["crank-angle cycle", "closed forms"])
def test_boost_air_and_mean_effective_pressure_are_plausible_without_tuning(builds, engine):
    outside = {
        (name, round(found[name], 4))
        for found in builds[engine]
        for name, low, high, _ in RANGES
        if not low <= found[name] <= high and name != FAST
    }
    assert outside == set()


@pytest.mark.parametrize("engine", [0, 1], ids=["crank-angle cycle", "closed forms"])
def test_the_same_quality_of_build_comes_out_alike_in_every_size(builds, engine):
    """The smallest engine here has three eighths of the largest one's displacement."""
    for name, allowed in (("bmep at best torque, bar", 0.02), ("isentropic efficiency", 0.02), ("boost, kPa", 0.12)):
        values = [found[name] for found in builds[engine]]
        assert max(values) / min(values) - 1 < allowed
    per_litre = [found["kW per litre"] for found in builds[engine]]
    assert per_litre == sorted(per_litre, reverse=True)  # engines share a piston speed, not an engine speed
