"""`boostwright doctor`: is this installation sound, and what would somebody who helps want to know?"""

import typer

from boostwright.cli.output import JsonTarget, write_json


def doctor(json: JsonTarget = None) -> None:
    """Examine this installation: versions, and whether each part does its work here; names no folder and no person.

    Example: boostwright doctor --json support.json
    """
    from boostwright.publish.doctor import examined

    found = examined()
    if json is not None:
        write_json(found.as_json(), json)
    if json != "-":
        for name, version in found.versions:
            typer.echo(f"{name:24} {version}")
        typer.echo("")
        for check in found.checks:
            typer.echo(f"{'sound' if check.is_sound else 'WRONG':6} {check.name}: {check.said}")
    if not found.is_sound:
        raise typer.Exit(2)
