"""`boostwright serve`: the whole job in a page of this computer."""

from pathlib import Path
from typing import Annotated

import typer

LOOPBACK = ("127.0.0.1", "::1", "localhost")
Folder = Annotated[Path, typer.Argument(metavar="[FOLDER]", help="A campaign folder, or an empty one to begin in.")]
Host = Annotated[str, typer.Option(help="Address to listen on; one of the network needs --share.")]
Port = Annotated[int, typer.Option(min=1, max=65535, help="Port to listen on.")]
Share = Annotated[bool, typer.Option("--share", help="Let others of the network in who know the token it prints.")]


def serve(folder: Folder = Path(), host: Host = "127.0.0.1", port: Port = 8460, share: Share = False) -> None:
    """Serve a local page for a campaign folder: drop logs, compare, try what-ifs, take the report.

    Example: boostwright serve examples/inlet-elbow
    """
    if not folder.is_dir():
        raise typer.BadParameter(f"{folder} is not a folder: make it first, or give another")
    if host not in LOOPBACK and not share:
        raise typer.BadParameter(f"{host} can be reached by others: add --share, or leave --host out")
    import secrets

    import uvicorn

    from boostwright.web.access import Access
    from boostwright.web.app import create_app

    token = secrets.token_urlsafe(24) if share else None
    address = f"http://{f'[{host}]' if ':' in host else host}:{port}/"
    typer.echo(f"{folder.resolve()}\n{address}{f'?token={token}' if token else ''}\nEnd with Ctrl+C.")
    uvicorn.run(create_app(folder, Access(token=token)), host=host, port=port, log_level="warning")
