"""`boostwright watch`: every log that arrives is a pull of the campaign a moment later, screened and compared."""

import json
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boostwright.cli.output import progress
from boostwright.errors import BoostwrightError, Fault, FileError

if TYPE_CHECKING:
    from rich.console import Console

    from boostwright.studies.watch import Session

WATCHED = "results/watched.json"

Folder = Annotated[
    Path, typer.Argument(metavar="CAMPAIGN", help="Folder with campaign.toml; logs arrive in its pulls/.")
]
Source = Annotated[
    Path | None,
    typer.Option("--from", metavar="FOLDER", help="Where the logger writes; each log is copied into pulls/."),
]
SetupOption = Annotated[str | None, typer.Option("--setup", help="What is on the stand, if file names do not say it.")]
Quantity = Annotated[str, typer.Option(help="What is compared.")]
Quiet = Annotated[float, typer.Option(help="Seconds without a change after which a log counts as complete.", min=0.1)]
Once = Annotated[bool, typer.Option("--once", help="Take what is there, once it stands still, and end.")]


def watch(
    campaign: Folder,
    source: Source = None,
    setup: SetupOption = None,
    quantity: Quantity = "power",
    quiet: Quiet = 5.0,
    once: Once = False,
) -> None:
    """Watch for logs during a session: each complete pull is read, screened and compared at once.

    campaign.toml is kept up to date, so nothing is lost if this program or the computer stops: start it again.

    Example: boostwright watch examples/inlet-elbow --once
    """
    from rich.console import Console

    from boostwright.records.arrivals import Arrivals
    from boostwright.records.campaign import CAMPAIGN_FILE

    console = Console(highlight=False)
    session = _opened(campaign, setup)
    pulls = campaign / "pulls"
    pulls.mkdir(exist_ok=True)
    place = source or pulls
    known, edited = Arrivals(quiet=quiet), _stamp(campaign / CAMPAIGN_FILE)
    progress(f"Watching {place}; end with Ctrl-C.")
    _tell(session, quantity, console)
    try:
        while True:
            was_reachable = known.is_reachable
            known, ready = known.looked(place, time.monotonic())
            if known.is_reachable != was_reachable:
                if once:
                    _refuse_unreachable(place)
                progress(f"{place} {'is back' if known.is_reachable else 'cannot be reached; waiting for it'}")
            if _stamp(campaign / CAMPAIGN_FILE) != edited:
                session = _reread(session)
                edited = _stamp(campaign / CAMPAIGN_FILE)
                _tell(session, quantity, console)
            if ready:
                session = _take(session, place, ready, setup, quantity, console)
                edited = _stamp(campaign / CAMPAIGN_FILE)
            if once and known.all_settled:
                return
            time.sleep(min(1.0, quiet / 4))
    except KeyboardInterrupt:
        progress("Stopped; all pulls are in campaign.toml.")


def _opened(campaign: Path, setup: str | None) -> "Session":
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.watch import Session

    read = read_campaign(campaign)
    if setup is not None and setup not in read.setups:
        remedy = f"choose {' or '.join(read.setups)}"
        raise FileError([Fault(key="--setup", value=f'"{setup}"', problem="is not one of the setups", remedy=remedy)])
    try:
        contents = json.loads((campaign / WATCHED).read_text())
    except (OSError, ValueError):
        contents = {}
    return Session(campaign=read, contents=contents)


def _refuse_unreachable(place: Path) -> None:
    remedy = "check --from, or leave --once out to wait for it"
    raise FileError([Fault(file=str(place), problem="cannot be reached", remedy=remedy)])


def _reread(session: "Session") -> "Session":
    """The session as somebody has edited it; an edit that cannot be read is said and waited out."""
    from dataclasses import replace

    from boostwright.records.campaign import read_campaign

    try:
        return replace(session, campaign=read_campaign(session.campaign.folder))
    except BoostwrightError as wrong:
        progress(f"{wrong}\ncampaign.toml is read again when it changes.")
        return session


def _stamp(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


def _take(
    session: "Session", place: Path, ready: tuple[str, ...], setup: str | None, quantity: str, console: "Console"
) -> "Session":
    """Take the logs that are complete, oldest first, write the campaign after each, and tell where it stands."""
    from datetime import datetime

    from boostwright.records.atomic import write_atomically
    from boostwright.records.campaign_writer import write_campaign
    from boostwright.studies.watch import arrived, brought_in

    news = False
    for name in sorted(ready, key=lambda name: (_stamp(place / name), name)):
        try:
            written = datetime.fromtimestamp((place / name).stat().st_mtime)
            arrival = arrived(session, brought_in(session, place / name), written, setup)
        except BoostwrightError as wrong:
            console.print(f"{wrong}\n  It is read again when it changes.", style="bold", markup=False)
            continue
        except OSError as wrong:
            progress(f"{place / name}: {wrong.strerror}; it is read again when it is back")
            continue
        if arrival.is_news:
            write_campaign(arrival.session.campaign)
        if arrival.session.contents != session.contents:
            text = json.dumps(dict(arrival.session.contents), indent=1)
            write_atomically(session.campaign.folder / WATCHED, text.encode())
        session, news = arrival.session, news or arrival.is_news
        for note in arrival.notes:
            console.print(f"{arrival.file} {note}", markup=False)
    if news:
        _tell(session, quantity, console)
    return session


def _tell(session: "Session", quantity: str, console: "Console") -> None:
    from boostwright.publish.watch_terminal import print_news
    from boostwright.studies.watch import session_news

    try:
        print_news(session_news(session.campaign, quantity), console)
    except BoostwrightError as wrong:
        console.print(str(wrong), style="bold", markup=False)
