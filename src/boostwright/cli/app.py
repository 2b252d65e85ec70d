"""The list of commands, and the one place where wrong input becomes a message and exit status 2."""

import sys

import typer

from boostwright import __version__
from boostwright.errors import BoostwrightError

app = typer.Typer(
    name="boostwright",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Prove with logged pulls what a change to a supercharged engine did; match blowers to engines.",
)


def _print_version(wanted: bool) -> None:  # noqa: FBT001  (the callback form that typer asks for)
    if wanted:
        typer.echo(f"boostwright {__version__}")
        raise typer.Exit


@app.callback()
def _everywhere(  # pyright: ignore[reportUnusedFunction]  (registered by the decorator)
    version: bool = typer.Option(False, "--version", callback=_print_version, is_eager=True, help="Show the version."),  # noqa: FBT001
) -> None: ...


def run() -> None:
    """Run the command that was typed."""
    try:
        app()
    except BoostwrightError as wrong:
        typer.echo(str(wrong), err=True)
        sys.exit(2)
