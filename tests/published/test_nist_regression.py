"""Regression sets of the NIST Statistical Reference Datasets (StRD), public domain, with NIST's certified values.

The files in tests/data/nist are NIST's own, unchanged, except Longley.csv, whose columns are those of the Longley set.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from boostwright.inference.meta_analysis import RandomEffects, Studies, random_effects, trend_of
from boostwright.inference.nonlinear_fit import NonlinearFit, Outcome, Parameter, no_prior, nonlinear_fit

DATA = Path(__file__).parents[1] / "data" / "nist"
Model = Callable[..., np.ndarray]


def gauss(x, b1, b2, b3, b4, b5, b6, b7, b8):
    return b1 * np.exp(-b2 * x) + b3 * np.exp(-((x - b4) ** 2) / b5**2) + b6 * np.exp(-((x - b7) ** 2) / b8**2)


def lanczos(x, b1, b2, b3, b4, b5, b6):
    return b1 * np.exp(-b2 * x) + b3 * np.exp(-b4 * x) + b5 * np.exp(-b6 * x)


def cubic_over_cubic(x, b1, b2, b3, b4, b5, b6, b7):
    return (b1 + b2 * x + b3 * x**2 + b4 * x**3) / (1 + b5 * x + b6 * x**2 + b7 * x**3)


def chwirut(x, b1, b2, b3):
    return np.exp(-b1 * x) / (b2 + b3 * x)


def saturating(x, b1, b2):
    return b1 * (1 - np.exp(-b2 * x))


def enso(x, b1, b2, b3, b4, b5, b6, b7, b8, b9):
    year, second, third = (2 * np.pi * x / period for period in (12, b4, b7))
    seasons = b2 * np.cos(year) + b3 * np.sin(year)
    return b1 + seasons + b5 * np.cos(second) + b6 * np.sin(second) + b8 * np.cos(third) + b9 * np.sin(third)


NONLINEAR: dict[str, Model] = {
    # lower difficulty, in NIST's words
    "Misra1a": saturating,
    "Chwirut1": chwirut,
    "Chwirut2": chwirut,
    "Lanczos3": lanczos,
    "Gauss1": gauss,
    "Gauss2": gauss,
    "DanWood": lambda x, b1, b2: b1 * x**b2,
    "Misra1b": lambda x, b1, b2: b1 * (1 - (1 + b2 * x / 2) ** -2),
    # average
    "Kirby2": lambda x, b1, b2, b3, b4, b5: (b1 + b2 * x + b3 * x**2) / (1 + b4 * x + b5 * x**2),
    "Hahn1": cubic_over_cubic,
    "Nelson": lambda x, b1, b2, b3: b1 - b2 * x[0] * np.exp(-b3 * x[1]),  # of ln y
    "MGH17": lambda x, b1, b2, b3, b4, b5: b1 + b2 * np.exp(-x * b4) + b3 * np.exp(-x * b5),
    "Lanczos1": lanczos,
    "Lanczos2": lanczos,
    "Gauss3": gauss,
    "Misra1c": lambda x, b1, b2: b1 * (1 - (1 + 2 * b2 * x) ** -0.5),
    "Misra1d": lambda x, b1, b2: b1 * b2 * x / (1 + b2 * x),
    "Roszman1": lambda x, b1, b2, b3, b4: b1 - b2 * x - np.arctan(b3 / (x - b4)) / np.pi,
    "ENSO": enso,
    # higher
    "MGH09": lambda x, b1, b2, b3, b4: b1 * (x**2 + x * b2) / (x**2 + x * b3 + b4),
    "Thurber": cubic_over_cubic,
    "BoxBOD": saturating,
    "Rat42": lambda x, b1, b2, b3: b1 / (1 + np.exp(b2 - b3 * x)),
    "MGH10": lambda x, b1, b2, b3: b1 * np.exp(b2 / (x + b3)),
    "Eckerle4": lambda x, b1, b2, b3: b1 / b2 * np.exp(-0.5 * ((x - b3) / b2) ** 2),
    "Rat43": lambda x, b1, b2, b3, b4: b1 / (1 + np.exp(b2 - b3 * x)) ** (1 / b4),
    "Bennett5": lambda x, b1, b2, b3: b1 * (b2 + x) ** (-1 / b3),
}


@dataclass(frozen=True, kw_only=True)
class CertifiedSet:
    starts: np.ndarray
    certified: np.ndarray
    standard_errors: np.ndarray
    residual_sum_of_squares: float
    response: np.ndarray
    predictor: np.ndarray

    def residuals(self, model: Model) -> Callable[[np.ndarray], np.ndarray]:
        return lambda lanes: np.stack([self.response - model(self.predictor, *lane) for lane in lanes])

    def parameters(self, start: int) -> list[Parameter]:
        return [
            Parameter(name=f"b{i + 1}", start=value, scale=1e-3 * abs(value))
            for i, value in enumerate(self.starts[start])
        ]

    def fit(self, model: Model, parameters: list[Parameter]) -> NonlinearFit:
        fit = nonlinear_fit(self.residuals(model), parameters, no_prior(len(parameters)))
        noise = fit.residuals @ fit.residuals / (len(self.response) - len(parameters))  # estimated, as NIST does
        return replace(fit, covariance=noise * fit.covariance)


def read_nonlinear(name: str) -> CertifiedSet:
    text = (DATA / f"{name}.dat").read_text(encoding="ascii")
    number = r"\s+([-+.\dE]+)"
    values = np.array(re.findall(rf"^ *b\d+ ={number}{number}{number}{number}", text, flags=re.MULTILINE), float)
    squares = re.search(r"Residual Sum of Squares: +(\S+)", text)
    assert squares
    columns = np.loadtxt(DATA / f"{name}.dat", skiprows=60, ndmin=2).T
    return CertifiedSet(
        starts=values[:, :2].T,
        certified=values[:, 2],
        standard_errors=values[:, 3],
        residual_sum_of_squares=float(squares[1]),
        response=np.log(columns[0]) if name == "Nelson" else columns[0],
        predictor=columns[1] if len(columns) == 2 else columns[1:],
    )


def assert_certified(fit: NonlinearFit, certified: CertifiedSet) -> None:
    """Six digits of each estimate and standard error, what differences resolve in double precision."""
    assert fit.outcome is Outcome.CONVERGED
    np.testing.assert_allclose(fit.estimates, certified.certified, rtol=1e-6)
    np.testing.assert_allclose(fit.standard_errors, certified.standard_errors, rtol=1e-6)


# From their far start, fits without limits leave for a minimum at infinity (NIST's page on MGH09 says so of that set).
WANDERERS = ("MGH17", "MGH09", "BoxBOD")
# The residuals of Lanczos1 are the rounding of its data, 1e-13: double precision fixes its estimates, not their errors.
EXACT_DATA = "Lanczos1"


CASES = [
    pytest.param(name, start, id=f"{name}-{('far', 'near')[start]}")
    for name in NONLINEAR
    for start in (0, 1)
    if name != EXACT_DATA and (start == 1 or name not in WANDERERS)
]


@pytest.mark.parametrize(("name", "start"), CASES)
def test_nonlinear_sets_reach_the_certified_values_from_both_starts(name, start):
    certified = read_nonlinear(name)
    fit = certified.fit(NONLINEAR[name], certified.parameters(start))
    assert_certified(fit, certified)
    assert fit.residuals @ fit.residuals == pytest.approx(certified.residual_sum_of_squares, rel=1e-6)


@pytest.mark.parametrize("start", [0, 1], ids=["far", "near"])
def test_the_exact_set_gives_ten_digits_of_its_estimates(start):
    certified = read_nonlinear(EXACT_DATA)
    fit = certified.fit(NONLINEAR[EXACT_DATA], certified.parameters(start))
    np.testing.assert_allclose(fit.estimates, certified.certified, rtol=1e-9)


@pytest.mark.parametrize("name", WANDERERS)
def test_a_fit_that_wanders_off_does_not_call_itself_converged(name):
    certified = read_nonlinear(name)
    fit = certified.fit(NONLINEAR[name], certified.parameters(0))
    assert fit.outcome in (Outcome.NOT_IDENTIFIABLE, Outcome.RAN_OUT_OF_STEPS)


@pytest.mark.parametrize("name", ["MGH09", "BoxBOD"])
def test_capped_steps_bring_the_wanderers_home_from_their_far_start(name):
    certified = read_nonlinear(name)
    capped = [replace(p, largest_step=abs(p.start)) for p in certified.parameters(0)]
    assert_certified(certified.fit(NONLINEAR[name], capped), certified)


def test_capped_steps_and_bounds_bring_mgh17_home_from_its_far_start():
    """Amplitudes within twice their start and decay rates from 0 to 3."""
    certified = read_nonlinear("MGH17")
    capped = [replace(p, largest_step=abs(p.start)) for p in certified.parameters(0)]
    amplitudes = [replace(p, lower=-2 * abs(p.start), upper=2 * abs(p.start)) for p in capped[:3]]
    rates = [replace(p, lower=0.0, upper=3.0) for p in capped[3:]]
    assert_certified(certified.fit(NONLINEAR["MGH17"], amplitudes + rates), certified)


def standard_errors(fit: RandomEffects) -> np.ndarray:
    return np.sqrt(np.diag(fit.covariance))


def test_norris_straight_line_to_eleven_digits():
    """The line that `pool` draws through studies without errors of their own."""
    y, x = np.loadtxt(DATA / "Norris.dat", skiprows=60).T
    fit = random_effects(trend_of(y, np.full(y.size, 1e-6), x))
    np.testing.assert_allclose(fit.coefficients, [-0.262323073774029, 1.00211681802045], rtol=1e-11)
    np.testing.assert_allclose(standard_errors(fit), [0.232818234301152, 0.429796848199937e-3], rtol=1e-11)
    assert fit.between_variance == pytest.approx(0.884796396144373**2, rel=1e-11)


def test_noint1_line_through_the_origin_to_thirteen_digits():
    """The data are x = 60, 61, ... 70 and y = 130, 131, ... 140; the spread between them to eleven digits."""
    x, y = np.arange(60.0, 71.0), np.arange(130.0, 141.0)
    fit = random_effects(Studies(effects=y, standard_errors=np.full(11, 1e-6), design=x[:, None]))
    assert fit.coefficients[0] == pytest.approx(2.07438016528926, rel=1e-13)
    assert standard_errors(fit)[0] == pytest.approx(0.0165289256198347, rel=1e-13)
    assert fit.between_variance == pytest.approx(3.56753034006338**2, rel=1e-11)


def test_longley_nearly_collinear_columns_to_five_digits():
    """B0 and the residual as certified, B1 to B6 from memory of the same page; differences resolve no more digits."""
    y, *columns = np.loadtxt(DATA / "Longley.csv", delimiter=",", skiprows=2).T
    slopes = [
        15.0618722713733,
        -0.0358191792925910,
        -2.02022980381683,
        -1.03322686717359,
        -0.0511041056535807,
        1829.15146461355,
    ]
    certified = np.array([-3482258.63459582, *slopes])
    design = np.column_stack([np.ones_like(y), *columns])
    parameters = [Parameter(name=f"b{i}", start=0.0, scale=float(size)) for i, size in enumerate(np.abs(certified))]
    fit = nonlinear_fit(lambda lanes: y - lanes @ design.T, parameters, no_prior(7))
    np.testing.assert_allclose(fit.estimates, certified, rtol=1e-5)
    assert np.sqrt(fit.residuals @ fit.residuals / (y.size - 7)) == pytest.approx(304.854073561965, rel=1e-7)
