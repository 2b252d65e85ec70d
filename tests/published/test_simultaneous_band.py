"""Critical value of a simultaneous band: the 95 % quantile of the largest of m |N(0, 1)| (doi
10.1080/10618600.2021.1950006, the sup-t band).

For independent normals it is 1.960, 2.7996 and 3.2835 at m = 1, 10 and 50: the normal quantile of (1 + 0.95^(1/m)) / 2.
"""

from dataclasses import replace

import numpy as np
import pytest

from boostwright.inference.disturbances import DisturbancePriors
from boostwright.inference.gain_curve import fit_gain_curve
from boostwright.inference.gain_summary import simultaneous_band
from tests.inference.campaigns import first_bins, made_campaign

DRAWS = 60_000


@pytest.mark.parametrize(("bins", "critical"), [(1, 1.960), (10, 2.7996), (50, 3.2835)])
def test_the_critical_value_is_that_of_independent_normals(bins, critical):
    data = first_bins(made_campaign("AB", seed=1), 4)
    posterior = replace(
        fit_gain_curve(data, DisturbancePriors(), np.random.default_rng(1)),
        engine_speed=np.arange(bins, dtype=float),
        gain=np.zeros(bins),
        gain_covariance=np.eye(bins),
        gain_draws=np.random.default_rng(2).standard_normal((DRAWS, bins)),
    )
    # a 95 % quantile of 60 000 draws has a standard error of about 0.008 here
    assert simultaneous_band(posterior, 0.95).critical_value == pytest.approx(critical, abs=0.025)
