"""The air at the stand during a pull, and what cannot be the air of any stand."""

from dataclasses import dataclass

from boostwright.errors import Fault

# Between these a person can test: the highest road lies near 50 kPa.
_BAROMETER = (50e3, 110e3)
_AIR_TEMPERATURE = (233.15, 333.15)
_RELATIVE_HUMIDITY = (0.0, 1.0)


@dataclass(frozen=True, kw_only=True)
class Weather:
    """Station pressure [Pa], air temperature [K] and relative humidity [-] as a fraction."""

    barometer: float
    air_temperature: float
    relative_humidity: float

    def __post_init__(self) -> None:
        for fault in weather_faults(self.barometer, self.air_temperature, self.relative_humidity):
            raise ValueError(str(fault))


def weather_faults(
    barometer: float | None, air_temperature: float | None, relative_humidity: float | None
) -> list[Fault]:
    """Return what cannot be; the key of each fault is the name of the quantity."""
    faults: list[Fault] = []
    if barometer is not None and not _BAROMETER[0] <= barometer <= _BAROMETER[1]:
        remedy = "give the absolute station pressure; is the unit right (hPa, kPa, inHg), or is it a gauge reading?"
        faults.append(_impossible("barometer", f"{barometer / 1e3:.4g} kPa", "50 to 110 kPa", remedy))
    if air_temperature is not None and not _AIR_TEMPERATURE[0] <= air_temperature <= _AIR_TEMPERATURE[1]:
        remedy = "give the temperature of the air at the stand; is it degF?"
        value = f"{air_temperature - 273.15:.4g} degC"
        faults.append(_impossible("air_temperature", value, "-40 to 60 degC", remedy))
    if relative_humidity is not None and not _RELATIVE_HUMIDITY[0] <= relative_humidity <= _RELATIVE_HUMIDITY[1]:
        remedy = 'give a fraction such as 0.52, or "52 %"; is it percent?'
        faults.append(_impossible("relative_humidity", f"{relative_humidity:.4g}", "0 to 1", remedy))
    return faults


def _impossible(key: str, value: str, possible: str, remedy: str) -> Fault:
    return Fault(key=key, value=value, problem=f"lies outside {possible}", remedy=remedy)
