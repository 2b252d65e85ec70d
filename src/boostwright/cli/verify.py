"""`boostwright verify`: does a bundle hold, computed again from its own inputs?"""

import sys
from pathlib import Path
from typing import Annotated

import typer

from boostwright.cli.output import JsonTarget, progress, write_json

Bundle = Annotated[Path, typer.Argument(metavar="FILE.zip", help="Bundle that `boostwright publish --bundle` made.")]
Key = Annotated[
    Path | None,
    typer.Option("--key", metavar="PUBLIC.pem", help="The maker's public key, which you have by another way."),
]


def verify(bundle: Bundle, key: Key = None, json: JsonTarget = None) -> None:
    """Verify a bundle: open it safely, check its seal, compute everything again and compare. Needs no network.

    Ends with status 0 only if everything was checked and holds.

    Example: boostwright verify claim.zip --key maker.public.pem
    """
    from rich.console import Console

    from boostwright.publish.explain_terminal import WIDTH
    from boostwright.publish.verify import Outcome, verified
    from boostwright.publish.verify_terminal import print_verification
    from boostwright.records.signing import read_public_key

    judge = None if key is None else read_public_key(key)
    progress("Computing everything in the bundle again; with a machine model that takes seconds ...")
    found = verified(bundle, judge)
    if json is not None:
        write_json(found.as_json(), json)
    if json != "-":
        print_verification(found, Console(highlight=False, width=None if sys.stdout.isatty() else WIDTH))
    if found.outcome is not Outcome.HOLDS:
        raise typer.Exit(2)
