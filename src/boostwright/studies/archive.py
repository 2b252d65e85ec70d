"""The firm's archive of pulls: putting campaigns into it, and what it says about a stand and about a quantity."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import stdtrit

from boostwright.errors import DataError, Fault, FileError
from boostwright.inference.disturbances import Indices, Repeatability
from boostwright.inference.fault_screen import screen_pulls
from boostwright.inference.repeatability import IMPROBABLE, conflict_probability, pooled_repeatability
from boostwright.records.archive import Addition, Archive, ArchivedPull, PullDescription, Search, add_pulls, found_pulls
from boostwright.records.campaign import Campaign
from boostwright.records.pull import RawPull, read_pulls
from boostwright.reduction.reduce import reduce_pull
from boostwright.reduction.stages import ReducedPull
from boostwright.studies.compare import ArchiveEvidence, reduction_settings, unit_of
from boostwright.studies.rounding import json_list
from boostwright.studies.words import count, joined

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class StandRepeatability:
    """How well a stand repeats itself with one engine family, and how many pulls and installations say so."""

    stand: str
    engine_family: str
    repeatability: Repeatability | None
    pulls: int
    blocks: int

    def as_json(self) -> dict[str, str | int | float | None]:
        """With the scatter in percent."""
        known = self.repeatability
        return {
            "stand": self.stand,
            "engine_family": self.engine_family,
            "pulls": self.pulls,
            "blocks": self.blocks,
            "pull_level_sd_percent": None if known is None else round(100 * known.pull_level_sd, 4),
            "degrees_of_freedom": None if known is None else round(known.degrees_of_freedom),
        }


@dataclass(frozen=True, kw_only=True)
class SpeedProfile:
    """Mean of a quantity in bins of engine speed over several pulls; arrays (bins,), NaN in bins without pulls.

    `lower` and `upper` hold the mean of pulls like these with 95 % confidence where two pulls or more reach a bin.
    `warnings` say what unlike pulls the mean is made of.
    """

    quantity: str
    engine_speed: Floats
    mean: Floats
    lower: Floats
    upper: Floats
    pulls: NDArray[np.int64]
    samples: NDArray[np.int64]
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """In the unit that readers of metric units want."""
        unit = unit_of(self.quantity, "metric")
        mean, lower, upper = (json_list(unit.from_si(values)) for values in (self.mean, self.lower, self.upper))
        return {
            "quantity": self.quantity,
            "unit": unit.symbol,
            "confidence": 0.95,
            "engine_speed_rpm": json_list(60 * self.engine_speed),
            "mean": mean,
            "lower": lower,
            "upper": upper,
            "pulls": self.pulls.tolist(),
            "samples": self.samples.tolist(),
            "warnings": list(self.warnings),
        }


def search_from_text(  # one argument an option of the command
    *,
    stand: str | None,
    engine_family: str | None,
    setup: str | None,
    build: str | None,
    quantity: str | None,
    first_day: str | None,
    last_day: str | None,
    with_superseded: bool,
) -> Search:
    """Which pulls a person asks for.

    Raises
    ------
    FileError
        If a day is not one.
    """
    for option, day in (("--since", first_day), ("--until", last_day)):
        try:
            date.fromisoformat(day or "2000-01-01")
        except ValueError as wrong:
            remedy = "write year, month and day, such as 2026-03-14"
            fault = Fault(key=option, value=f'"{day}"', problem="is not a day", remedy=remedy)
            raise FileError([fault]) from wrong
    return Search(
        stand=stand,
        engine_family=engine_family,
        setup=setup,
        build=build,
        quantity=quantity,
        first_day=first_day,
        last_day=last_day,
        with_superseded=with_superseded,
    )


def archive_campaign(archive: Archive, campaign: Campaign, added: datetime) -> Iterator[Addition]:
    """Read every pull of a campaign and add it; each addition comes out once it is safe."""
    raw = read_pulls(campaign)
    settings = reduction_settings(campaign)
    reduced = [reduce_pull(pull, settings) for pull in raw]
    faults = {row.pull.file: row.fault for row in screen_pulls(reduced)}
    described = [
        _description(campaign, pull, after, "" if (fault := faults.get(pull.file)) is None else fault.kind)
        for pull, after in zip(raw, reduced, strict=True)
    ]
    return add_pulls(archive, ((said, pull.channels) for said, pull in zip(described, raw, strict=True)), added)


def stands(archive: Archive) -> tuple[StandRepeatability, ...]:
    """Every stand and engine family of the archive, with what is known of its repeatability."""
    pulls = found_pulls(archive, Search())
    pairs = sorted({(pull.description.stand, pull.description.engine_family) for pull in pulls})
    return tuple(_stand_repeatability(stand, family, pulls) for stand, family in pairs)


def archive_evidence(archive: Archive, campaign: Campaign, pulls: Sequence[ReducedPull]) -> ArchiveEvidence:
    """What the stand's earlier pulls give a comparison of these; the campaign's own pulls do not count twice."""
    own = {entry.started.isoformat() for entry in campaign.pulls}
    search = Search(stand=campaign.stand.name, engine_family=campaign.engine_family)
    earlier = [pull for pull in found_pulls(archive, search) if pull.description.started not in own]
    known = _stand_repeatability(campaign.stand.name, campaign.engine_family, earlier)
    where = f'stand "{known.stand}"' + (f' with engine family "{known.engine_family}"' if known.engine_family else "")
    if known.repeatability is None:
        sentence = f"The archive holds no repeated pulls of {where} yet; the population's scatter is assumed."
        return ArchiveEvidence(repeatability=None, sentence=sentence)
    figure = (
        f"{100 * known.repeatability.pull_level_sd:.2f} % from {known.pulls} archived pulls "
        f"({known.repeatability.degrees_of_freedom:.0f} degrees of freedom) of {where}"
    )
    levels = np.array([_level(pull, campaign.speed_range) for pull in pulls])
    whole = np.isfinite(levels)
    blocks = _numbered([(pull.setup, pull.session, pull.installation) for pull in pulls])
    probability = conflict_probability(levels[whole], blocks[whole], known.repeatability)
    if probability < IMPROBABLE:
        sentence = (
            f"Today's pulls scatter unlike the archive's figure, {figure} (probability {probability:.3f} if it held); "
            "it is not used, and the population's scatter is assumed: look for what is different today."
        )
        return ArchiveEvidence(repeatability=None, sentence=sentence)
    sentence = f"The scatter of pulls is expected near the archive's figure, {figure}."
    return ArchiveEvidence(repeatability=known.repeatability, sentence=sentence)


def speed_profile(archive: Archive, search: Search, quantity: str, edges: Floats) -> SpeedProfile:
    """Mean of a channel in bins of engine speed over all pulls that match, as they were logged.

    Parameters
    ----------
    edges : ndarray, shape (bins + 1,)
        Edges of equally wide bins. [1/s]

    Raises
    ------
    DataError
        If no pull matches.
    """
    found = [pull for pull in found_pulls(archive, search) if {quantity, "engine_speed"} <= set(pull.quantities)]
    if not found:
        remedy = "ask for less, or see what is there with: boostwright archive list"
        raise DataError(str(Fault(value=quantity, problem="is in no archived pull that matches", remedy=remedy)))
    bins, width = edges.size - 1, float(edges[1] - edges[0])
    place = ((pl.col("engine_speed") - float(edges[0])) / width).floor().cast(pl.Int32)
    paths = [archive.path(pull) for pull in found]
    frame = (
        pl.scan_parquet(paths, include_file_paths="pull", missing_columns="insert", extra_columns="ignore")
        .select("pull", place.alias("bin"), value=pl.col(quantity))
        .filter(pl.col("bin").is_between(0, bins - 1))
        .group_by("bin", "pull")
        .agg(pl.col("value").mean(), samples=pl.len())
        .group_by("bin")
        .agg(
            pl.col("value").mean().alias("mean"),
            pl.col("value").std().alias("sd"),
            pl.len().alias("pulls"),
            pl.col("samples").sum(),
        )
        .sort("bin")
        .collect(engine="streaming")
    )
    return _profile(frame, quantity, edges, _mixture(found))


def _mixture(pulls: Sequence[ArchivedPull]) -> tuple[str, ...]:
    """That the pulls are of several stands, engine families or setups, and how to ask for one."""
    kinds = (("stand", "stands"), ("engine_family", "engine families"), ("setup", "setups"))
    found = [(name, words, len({getattr(pull.description, name) for pull in pulls})) for name, words in kinds]
    mixed = [(name, count(amount, "", words)) for name, words, amount in found if amount > 1]
    if not mixed:
        return ()
    options = " or ".join(f"--{name.replace('_', '-')}" for name, _ in mixed)
    return (f"The mean is of {joined([said for _, said in mixed])}; narrow it with {options}.",)


def _profile(frame: pl.DataFrame, quantity: str, edges: Floats, warnings: tuple[str, ...]) -> SpeedProfile:
    bins = edges.size - 1
    at = frame["bin"].to_numpy()
    mean, half = np.full(bins, np.nan), np.full(bins, np.nan)
    pulls, samples = np.zeros(bins, np.int64), np.zeros(bins, np.int64)
    mean[at], pulls[at], samples[at] = (frame[name].to_numpy() for name in ("mean", "pulls", "samples"))
    sd = frame["sd"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    n = pulls[at]
    half[at] = stdtrit(np.maximum(n - 1, 1), 0.975) * sd / np.sqrt(n)
    return SpeedProfile(
        quantity=quantity,
        engine_speed=0.5 * (edges[1:] + edges[:-1]),
        mean=mean,
        lower=mean - half,
        upper=mean + half,
        pulls=pulls,
        samples=samples,
        warnings=warnings,
    )


def _description(campaign: Campaign, raw: RawPull, reduced: ReducedPull, fault: str) -> PullDescription:
    build = campaign.setups[raw.setup].build
    weather, level = raw.weather, _level(reduced, campaign.speed_range)
    return PullDescription(
        campaign=campaign.title,
        stand=campaign.stand.name,
        engine_family=campaign.engine_family,
        setup=raw.setup,
        build="" if build is None else hashlib.sha256((campaign.folder / build).read_bytes()).hexdigest(),
        file=raw.file,
        session=raw.session,
        installation=raw.installation,
        started=raw.started.isoformat(),
        barometer=None if weather is None else weather.barometer,
        air_temperature=None if weather is None else weather.air_temperature,
        relative_humidity=None if weather is None else weather.relative_humidity,
        soak_temperature=raw.soak_temperature,
        speed_from=campaign.speed_range[0],
        speed_to=campaign.speed_range[1],
        correction=campaign.correction,
        level=level if np.isfinite(level) else None,
        fault=fault,
    )


def _level(pull: ReducedPull, speed_range: tuple[float, float]) -> float:
    """Mean of the logarithm of corrected torque over the range; NaN where the pull leaves a bin of it open."""
    inside = (pull.engine_speed >= speed_range[0]) & (pull.engine_speed <= speed_range[1])
    return float(np.mean(np.log(pull.values["torque"][inside])))


def _stand_repeatability(stand: str, family: str, pulls: Sequence[ArchivedPull]) -> StandRepeatability:
    """Pooled over the installations of all campaigns on one stand; faulty and incomplete pulls say nothing."""
    own = [
        said
        for pull in pulls
        if ((said := pull.description).stand, said.engine_family) == (stand, family)
        and said.level is not None
        and not said.fault
    ]
    blocks = _numbered([(said.campaign, said.setup, said.session, said.installation) for said in own])
    levels = np.array([said.level for said in own], np.float64)
    return StandRepeatability(
        stand=stand,
        engine_family=family,
        repeatability=pooled_repeatability(levels, blocks),
        pulls=len(own),
        blocks=int(np.unique(blocks).size),
    )


def _numbered(keys: Sequence[tuple[str | int, ...]]) -> Indices:
    places = {key: place for place, key in enumerate(dict.fromkeys(keys))}
    return np.array([places[key] for key in keys], np.int64)
