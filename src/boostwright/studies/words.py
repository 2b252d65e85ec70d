"""How results are said: numbers no finer than their uncertainty, and one sentence pattern per outcome."""

import math

NO_BREAK = "\u00a0"
THIN = "\u202f"
MINUS = "\u2212"
_NOTHING = f"0.{THIN}infa"  # of a number that rounds to zero or is none; a page says thousands of them at once


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign and thin spaces between thousands; negative zero is zero."""
    text = f"{abs(value):,.{decimals}f}".replace(",", THIN)
    return f"{MINUS}{text}" if value < 0 and text.strip(_NOTHING) else text


def signed(value: float, decimals: int = 0) -> str:
    """A difference: always with its sign, unless it rounds to zero."""
    text = number(value, decimals)
    return f"+{text}" if value > 0 and text.strip(_NOTHING) else text


def decimals_for(half_width: float) -> int:
    """Decimals that an uncertainty deserves: one figure of it, two when it begins with a one."""
    if not half_width > 0 or not math.isfinite(half_width):
        return 1
    exponent = math.floor(math.log10(half_width))
    leading = half_width / 10.0**exponent
    if round(leading) >= 10:
        exponent, leading = exponent + 1, 1.0
    return max(0, 1 - exponent if leading < 1.95 else -exponent)


def plus_minus(value: float, half_width: float, unit: str) -> str:
    """A value with its 95 % half-width and its unit, same decimals on both."""
    decimals = decimals_for(half_width)
    return NO_BREAK.join((number(value, decimals), "±", number(half_width, decimals), unit))


def signed_plus_minus(value: float, half_width: float, unit: str) -> str:
    """A difference with its 95 % half-width and its unit, same decimals on both."""
    decimals = decimals_for(half_width)
    return NO_BREAK.join((signed(value, decimals), "±", number(half_width, decimals), unit))


def speed_text(engine_speed: float) -> str:
    """An engine speed [1/s] in rev/min to the nearest ten."""
    return number(round(engine_speed * 6.0) * 10)


def speed_span_text(from_speed: float, to_speed: float) -> str:
    """A range of engine speeds with its unit; it does not break across lines."""
    return f"{speed_text(from_speed)}\u2013{speed_text(to_speed)}{NO_BREAK}rev/min"


def count(amount: int, singular: str, plural: str = "") -> str:
    """An amount with its noun: 1 pull, 3 pulls."""
    return f"{amount}{NO_BREAK}{singular if amount == 1 else plural or singular + 's'}"


def joined(parts: list[str]) -> str:
    """Parts of a sentence as a person lists them: a, b and c."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def quantity_words(quantity: str) -> str:
    """A quantity's name as a person says it."""
    return quantity.replace("_", " ")
