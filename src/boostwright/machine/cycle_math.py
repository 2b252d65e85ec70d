"""Elementary functions without a library call, so that a loop over the lanes of a block becomes vector code."""

import math

import numpy as np

from boostwright.physics.compiled import merged

_LOG2_E = 1 / math.log(2)
_LN2 = math.log(2)
_EXPONENT_BITS = 52
_BIAS = 1023
_MANTISSA = (1 << _EXPONENT_BITS) - 1
_ONE = _BIAS << _EXPONENT_BITS


@merged
def root(number: float) -> float:
    """Square root of the magnitude: of a number that may be negative the compiler would ask the library."""
    return math.sqrt(abs(number))


@merged
def exponential(number: float) -> float:
    """e to a power between -700 and 700, within 2e-10 of its value."""
    k = math.floor(number * _LOG2_E + 0.5)
    r = number - k * _LN2
    p = 1 / 720 + r * (1 / 5040 + r * (1 / 40320 + r / 362880))
    p = 1 + r * (1 + r * (1 / 2 + r * (1 / 6 + r * (1 / 24 + r * (1 / 120 + r * p)))))
    return p * np.int64((np.int64(k) + _BIAS) << _EXPONENT_BITS).view(np.float64)


@merged
def logarithm(number: float) -> float:
    """Natural logarithm of a positive normal number, within 2e-11."""
    bits = np.float64(number).view(np.int64)
    mantissa = np.int64((bits & _MANTISSA) | _ONE).view(np.float64)
    upper = mantissa > 1.4142135623730951
    e = np.float64((bits >> _EXPONENT_BITS) - _BIAS) + (1.0 if upper else 0.0)
    f = (0.5 * mantissa if upper else mantissa) - 1
    s = f / (2 + f)
    z = s * s
    return e * _LN2 + 2 * s * (1 + z * (1 / 3 + z * (1 / 5 + z * (1 / 7 + z * (1 / 9 + z * (1 / 11 + z / 13))))))


@merged
def sine_cosine(angle: float) -> tuple[float, float]:
    """Sine and cosine of an angle of a few turns, within 1e-12."""
    k = math.floor(angle * (2 / math.pi) + 0.5)
    r = angle - k * (math.pi / 2)
    z = r * r
    p = 1 / 120 + z * (-1 / 5040 + z * (1 / 362880 + z * (-1 / 39916800 + z / 6227020800)))
    sine = r + r * z * (-1 / 6 + z * p)
    p = -1 / 720 + z * (1 / 40320 + z * (-1 / 3628800 + z * (1 / 479001600 - z / 87178291200)))
    cosine = 1 + z * (-1 / 2 + z * (1 / 24 + z * p))
    quadrant = np.int64(k) & 3
    odd = (quadrant & 1) == 1
    s, c = (cosine if odd else sine), (sine if odd else cosine)
    return (-s if quadrant >= 2 else s), (-c if quadrant == 1 or quadrant == 2 else c)
