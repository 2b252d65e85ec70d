"""What an archive holds, as it is printed in the terminal."""

from collections.abc import Sequence

import numpy as np
from rich.console import Console

from boostwright.publish.terminal import plain_table, say
from boostwright.records.archive import ArchivedPull, Channels
from boostwright.studies.archive import SpeedProfile, StandRepeatability
from boostwright.studies.compare import unit_of
from boostwright.studies.words import count, decimals_for, number, quantity_words, speed_span_text


def print_pulls(pulls: Sequence[ArchivedPull], console: Console) -> None:
    """Print a row a pull; the digest in front is what `archive show` takes."""
    if not pulls:
        say(console, "No pull matches.")
        return
    table = plain_table("pull", "started", "stand", "setup", "campaign")
    for column in table.columns[:4]:
        column.justify = "left"
    table.columns[4].overflow = "fold"
    for pull in pulls:
        said = pull.description
        notes = [said.campaign, *([f"({said.fault})"] if said.fault else [])]
        notes += ["(replaced by a later description)"] if pull.superseded_by else []
        table.add_row(pull.digest[:12], said.started[:16].replace("T", " "), said.stand, said.setup, " ".join(notes))
    console.print(table)
    console.print()
    say(console, f"{count(len(pulls), 'pull')}.", "dim")


def print_pull(pull: ArchivedPull, channels: Channels, console: Console) -> None:
    """Print how a pull was made, and the span of each channel in SI."""
    said = pull.description
    say(console, f"{said.campaign}: {said.setup}", "bold")
    for name, value in _account(pull):
        say(console, f"{name}: {value}")
    console.print()
    table = plain_table("lowest", "mean", "highest", "channel")
    for quantity, values in sorted(channels.items()):
        unit = unit_of(quantity, "metric")
        low, mean, high = (f"{unit.from_si(value):.5g}" for value in (values.min(), values.mean(), values.max()))
        table.add_row(low, mean, high, f"{quantity_words(quantity)} [{unit.symbol}]")
    console.print(table)


def _account(pull: ArchivedPull) -> list[tuple[str, str]]:
    said = pull.description
    air = "not given"
    if said.barometer is not None and said.air_temperature is not None and said.relative_humidity is not None:
        air = (
            f"{said.barometer / 100:.1f} hPa, {said.air_temperature - 273.15:.1f} °C, "
            f"{100 * said.relative_humidity:.0f} % humidity"
        )
    stand = said.stand + (f", engine family {said.engine_family}" if said.engine_family else "")
    return [
        ("Digest", pull.digest),
        ("File", said.file),
        ("Stand", stand or "not named"),
        ("Started", f"{said.started}, session {said.session}, installation {said.installation}"),
        ("Air", air),
        ("Declared range", speed_span_text(said.speed_from, said.speed_to)),
        ("Fault", said.fault or "none found"),
        ("Rows", str(pull.samples)),
        ("Added", pull.added),
        *([("Replaced by", pull.superseded_by)] if pull.superseded_by else []),
    ]


def print_profile(profile: SpeedProfile, console: Console) -> None:
    """Print the mean of a channel in each bin of engine speed, with its interval over pulls."""
    unit = unit_of(profile.quantity, "metric")
    mean, lower = unit.from_si(profile.mean), unit.from_si(profile.lower)
    words = quantity_words(profile.quantity).capitalize()
    say(console, f"{words} [{unit.symbol}] as logged, mean over pulls", "bold")
    console.print()
    table = plain_table("rev/min", "mean", "± (95 %)", "pulls", "rows")
    for k in np.flatnonzero(profile.pulls):
        half = mean[k] - lower[k]
        places = decimals_for(half) if np.isfinite(half) and half > 0 else 1
        table.add_row(
            number(60 * profile.engine_speed[k]),
            number(mean[k], places),
            number(half, places) if np.isfinite(half) else "one pull",
            str(profile.pulls[k]),
            str(profile.samples[k]),
        )
    console.print(table)
    console.print()
    for warning in profile.warnings:
        say(console, f"• {warning}")
    say(console, "The range is that of the mean of pulls like these; it holds no error that all of them share.", "dim")


def print_stands(stands: Sequence[StandRepeatability], console: Console) -> None:
    """Print the scatter of each stand, and how much stands behind it."""
    if not stands:
        say(console, "The archive is empty.")
        return
    table = plain_table(
        "scatter of\na pull, %", "degrees of\nfreedom", "pulls", "installations", "stand, engine family"
    )
    for known in stands:
        found = known.repeatability
        table.add_row(
            "not known" if found is None else number(100 * found.pull_level_sd, 2),
            "0" if found is None else number(found.degrees_of_freedom),
            str(known.pulls),
            str(known.blocks),
            ", ".join(filter(None, (known.stand or "not named", known.engine_family))),
        )
    console.print(table)
    console.print()
    say(
        console,
        "Standard deviation of the mean torque of pulls of one setup in one installation, faulty pulls left out. "
        "`boostwright compare CAMPAIGN --archive FOLDER` expects today's pulls to scatter alike, and says if they do "
        "not.",
        "dim",
    )
