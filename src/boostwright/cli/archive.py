"""`boostwright archive`: all pulls of a firm in one place, and what they say about its stands."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

if TYPE_CHECKING:
    from boostwright.records.archive import Search

archive = typer.Typer(
    no_args_is_help=True, help="Keep all pulls of a firm; learn from them how well each stand repeats itself."
)

Place = Annotated[
    Path,
    typer.Option("--archive", envvar="BOOSTWRIGHT_ARCHIVE", help="Folder of the archive, on a disk of this machine."),
]
Campaigns = Annotated[list[Path], typer.Argument(metavar="CAMPAIGN...", help="Folders that hold a campaign.toml.")]
Stand = Annotated[str | None, typer.Option(help="Only pulls of this stand.")]
Family = Annotated[str | None, typer.Option("--engine-family", help="Only pulls of this engine family.")]
SetupName = Annotated[str | None, typer.Option("--setup", help="Only pulls of this setup.")]
Build = Annotated[str | None, typer.Option(help="Only pulls of the build file with this SHA-256.")]
Quantity = Annotated[str | None, typer.Option(help="Only pulls that carry this quantity, such as air_mass_flow.")]
Since = Annotated[str | None, typer.Option(metavar="DAY", help="Only pulls of this day or later, such as 2026-03-14.")]
Until = Annotated[str | None, typer.Option(metavar="DAY", help="Only pulls of this day or earlier.")]
Earlier = Annotated[bool, typer.Option("--all", help="Also descriptions that a later one has replaced.")]


@archive.command()
def add(campaigns: Campaigns, place: Place) -> None:
    """Add the pulls of campaigns; a pull that is there already is not added twice.

    Example: boostwright archive add examples/inlet-elbow --archive pulls-archive
    """
    from collections import Counter
    from datetime import UTC, datetime

    from boostwright.records.archive import created
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.archive import archive_campaign
    from boostwright.studies.words import count

    home = created(place)
    for folder in campaigns:
        outcomes: Counter[str] = Counter()
        for addition in archive_campaign(home, read_campaign(folder), datetime.now(UTC)):
            outcomes[addition.outcome] += 1
            progress(f"{addition.pull.description.file}: {addition.outcome}")
        told = ", ".join(f"{amount} {outcome}" for outcome, amount in outcomes.items()) or "no pull"
        typer.echo(f"{folder}: {count(sum(outcomes.values()), 'pull')} ({told})")


@archive.command("list")
def list_pulls(
    place: Place,
    stand: Stand = None,
    engine_family: Family = None,
    setup: SetupName = None,
    build: Build = None,
    quantity: Quantity = None,
    since: Since = None,
    until: Until = None,
    earlier: Earlier = False,
    json: JsonTarget = None,
) -> None:
    """List the pulls that match, oldest first.

    Example: boostwright archive list --setup cast --archive pulls-archive
    """
    from dataclasses import asdict

    from boostwright.records.archive import found_pulls, opened

    search = _search(stand, engine_family, setup, build, quantity, since, until, earlier)
    pulls = found_pulls(opened(place), search)
    if json is not None:
        write_json({"pulls": [asdict(pull) for pull in pulls]}, json)
    if json != "-":
        from rich.console import Console

        from boostwright.publish.archive_terminal import print_pulls

        print_pulls(pulls, Console(highlight=False))


@archive.command()
def show(
    digest: Annotated[
        str, typer.Argument(metavar="PULL", help="The first letters of a pull's digest, as list prints it.")
    ],
    place: Place,
    csv: Annotated[Path | None, typer.Option(help="Write its channels, in SI, as CSV into this file.")] = None,
) -> None:
    """Show one pull: how it was made, and its channels.

    Example: boostwright archive show 3f2a --archive pulls-archive
    """
    from rich.console import Console

    from boostwright.publish.archive_terminal import print_pull
    from boostwright.records.archive import archived_channels, one_pull, opened

    home = opened(place)
    pull = one_pull(home, digest)
    channels = archived_channels(home, pull)
    print_pull(pull, channels, Console(highlight=False))
    if csv is not None:
        from boostwright.records.archive_upkeep import channels_csv
        from boostwright.records.atomic import write_atomically

        write_atomically(csv, channels_csv(channels))
        progress(f"Channels: {csv}")


@archive.command()
def query(
    quantity: Annotated[str, typer.Argument(metavar="QUANTITY", help="A channel, such as torque or air_mass_flow.")],
    place: Place,
    speeds: Annotated[
        str, typer.Option(help="Lowest and highest speed and the width of a bin, in rpm.")
    ] = "2000:6000:250",
    stand: Stand = None,
    engine_family: Family = None,
    setup: SetupName = None,
    build: Build = None,
    since: Since = None,
    until: Until = None,
    json: JsonTarget = None,
) -> None:
    """Average a channel in bins of engine speed over all pulls that match, as logged.

    Example: boostwright archive query torque --setup cast --archive pulls-archive
    """
    from boostwright.records.archive import opened
    from boostwright.studies.archive import speed_profile
    from boostwright.studies.match_request import speeds_from_text

    search = _search(stand, engine_family, setup, build, quantity, since, until, False)
    profile = speed_profile(opened(place), search, quantity, speeds_from_text(speeds))
    if json is not None:
        write_json(profile.as_json(), json)
    if json != "-":
        from rich.console import Console

        from boostwright.publish.archive_terminal import print_profile

        print_profile(profile, Console(highlight=False))


@archive.command()
def stands(place: Place, json: JsonTarget = None) -> None:
    """Print how well each stand repeats itself, by engine family; `compare --archive` uses these figures.

    Example: boostwright archive stands --archive pulls-archive
    """
    from boostwright.records.archive import opened
    from boostwright.studies.archive import stands as known_stands

    known = known_stands(opened(place))
    if json is not None:
        write_json({"stands": [stand.as_json() for stand in known]}, json)
    if json != "-":
        from rich.console import Console

        from boostwright.publish.archive_terminal import print_stands

        print_stands(known, Console(highlight=False))


@archive.command()
def check(place: Place) -> None:
    """Read every pull and compare it with its digest; exit with status 2 if one is not what was added.

    Example: boostwright archive check --archive pulls-archive
    """
    from boostwright.records.archive import Search, found_pulls, opened
    from boostwright.records.archive_upkeep import check_archive
    from boostwright.studies.words import count

    home = opened(place)
    faults = list(check_archive(home))
    for fault in faults:
        typer.echo(str(fault), err=True)
    checked = len(found_pulls(home, Search(with_superseded=True)))
    typer.echo(f"{count(checked, 'pull')} read, {count(len(faults), 'fault')}.")
    if faults:
        raise typer.Exit(2)


@archive.command()
def repair(place: Place) -> None:
    """Remove what stopped programs left behind; make a lost or damaged index again from the pulls.

    Example: boostwright archive repair --archive pulls-archive
    """
    from boostwright.records.archive_upkeep import repair_archive
    from boostwright.studies.words import count

    done = repair_archive(place)
    index = "made again" if done.index_made else "sound"
    named, removed = count(done.named, "lost pull"), count(done.removed, "unfinished file")
    typer.echo(f"Index {index}, {named} named again, {removed} removed.")


@archive.command()
def export(
    target: Annotated[Path, typer.Argument(metavar="FOLDER", help="Another archive, made if it is not there.")],
    place: Place,
    stand: Stand = None,
    engine_family: Family = None,
    setup: SetupName = None,
    build: Build = None,
    quantity: Quantity = None,
    since: Since = None,
    until: Until = None,
) -> None:
    """Copy the pulls that match into another archive, which may travel as a folder or zipped.

    Example: boostwright archive export for-the-dealer --setup cast --archive pulls-archive
    """
    _copy(place, target, _search(stand, engine_family, setup, build, quantity, since, until, False))


@archive.command("import")
def import_pulls(
    source: Annotated[Path, typer.Argument(metavar="FOLDER", help="The archive to take the pulls from.")], place: Place
) -> None:
    """Take over all pulls of another archive.

    Example: boostwright archive import from-the-dealer --archive pulls-archive
    """
    from boostwright.records.archive import Search

    _copy(source, place, Search())


def _copy(source: Path, target: Path, search: "Search") -> None:
    from collections import Counter
    from datetime import UTC, datetime

    from boostwright.records.archive import opened
    from boostwright.records.archive_upkeep import copied

    outcomes = Counter(addition.outcome for addition in copied(opened(source), target, search, datetime.now(UTC)))
    told = ", ".join(f"{amount} {outcome}" for outcome, amount in outcomes.items()) or "no pull matches"
    typer.echo(f"{target}: {told}")


def _search(
    stand: str | None,
    engine_family: str | None,
    setup: str | None,
    build: str | None,
    quantity: str | None,
    since: str | None,
    until: str | None,
    earlier: bool,
) -> "Search":
    from boostwright.studies.archive import search_from_text

    return search_from_text(
        stand=stand,
        engine_family=engine_family,
        setup=setup,
        build=build,
        quantity=quantity,
        first_day=since,
        last_day=until,
        with_superseded=earlier,
    )
