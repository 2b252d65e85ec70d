"""The list of commands, and the one place where wrong input becomes a message and exit status 2."""

import sys
from typing import Annotated

import typer

from boostwright import __version__
from boostwright.cli.archive import archive
from boostwright.cli.carry import carry
from boostwright.cli.compare import compare
from boostwright.cli.demo import demo
from boostwright.cli.doctor import doctor
from boostwright.cli.explain import explain
from boostwright.cli.inspect import inspect
from boostwright.cli.keys import keys
from boostwright.cli.limits import limits
from boostwright.cli.match import match
from boostwright.cli.plan import plan
from boostwright.cli.pool import pool
from boostwright.cli.publish import publish
from boostwright.cli.serve import serve
from boostwright.cli.sheet import sheet
from boostwright.cli.verify import verify
from boostwright.cli.watch import watch
from boostwright.errors import BoostwrightError

app = typer.Typer(
    name="boostwright",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Prove with logged pulls what a change to a supercharged engine did; match blowers to engines.",
)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"boostwright {__version__}")
        raise typer.Exit


VersionSwitch = Annotated[
    bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version.")
]


@app.callback()
def everywhere(version: VersionSwitch = False) -> None:
    """Options that hold for every command."""
    del version  # its callback has printed it and ended


app.command()(demo)
app.command()(inspect)
app.command()(plan)
app.command()(compare)
app.command()(match)
app.command()(limits)
app.command()(serve)
app.command()(explain)
app.command()(carry)
app.command()(watch)
app.add_typer(archive, name="archive")
app.command()(publish)
app.command()(verify)
app.command()(keys)
app.command()(sheet)
app.command()(pool)
app.command()(doctor)


def run() -> None:
    """Run the command that was typed."""
    try:
        app()
    except BoostwrightError as wrong:
        typer.echo(str(wrong), err=True)
        sys.exit(2)
