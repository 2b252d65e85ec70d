"""`boostwright publish`: the result leaves the building, as a report that a customer can read and check."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from boostwright.cli.output import progress

Source = Annotated[Path, typer.Argument(metavar="CAMPAIGN", help="Folder with campaign.toml and its pulls.")]
Out = Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Where it goes, instead of CAMPAIGN/report.")]
PaperSize = Annotated[
    Literal["a4", "letter"], typer.Option("--paper", metavar="a4|letter", help="Size of the printed page.")
]
UnitSystem = Annotated[
    Literal["metric", "us"] | None, typer.Option("--units", metavar="metric|us", help="Instead of the campaign's own.")
]
Tongue = Annotated[str, typer.Option("--language", metavar="en|de", help="Language of the sentences.")]
Quantity = Annotated[str, typer.Option(help="What is claimed: power or torque; another quantity is reported only.")]
ClaimKind = Annotated[
    str,
    typer.Option("--claim", metavar="KIND", help='average, peak, largest, best-pull, or "at-speed 4500" in rev/min.'),
]
NoModel = Annotated[bool, typer.Option("--no-model", help="Leave out causes and limits, which take seconds.")]

CarryTo = Annotated[
    list[Path] | None,
    typer.Option("--to", metavar="BUILD.toml", help="Carry the gain to a build; give it again for more."),
]

Bundle = Annotated[
    Path | None,
    typer.Option("--bundle", metavar="FILE.zip", help="Put inputs, results and report into one file that verifies."),
]
Key = Annotated[
    Path | None, typer.Option("--key", metavar="PRIVATE.pem", help="Sign the bundle; `boostwright keys` makes a key.")
]


def publish(
    campaign: Source,
    out: Out = None,
    paper: PaperSize = "a4",
    units: UnitSystem = None,
    language: Tongue = "en",
    quantity: Quantity = "power",
    claim: ClaimKind = "average",
    no_model: NoModel = False,
    to: CarryTo = None,
    bundle: Bundle = None,
    key: Key = None,
) -> None:
    """Publish a campaign: the claim that its pulls support, as a tagged PDF and as one HTML file of the same words.

    Example: boostwright publish examples/inlet-elbow --paper letter --units us --bundle claim.zip
    """
    from boostwright.cli.keys import private_key
    from boostwright.publish.bundle import bundle_contents
    from boostwright.publish.bundle_seal import write_bundle
    from boostwright.publish.document_files import write_document
    from boostwright.publish.published import ReportRequest, campaign_document
    from boostwright.records.campaign import read_campaign
    from boostwright.studies.claim import claim_request
    from boostwright.units import UnitError

    if key is not None and bundle is None:
        raise UnitError("--key", "signs a bundle, and none is asked for", "name one: --bundle claim.zip")
    signer = None if key is None else private_key(key)
    asked = read_campaign(campaign)
    request = ReportRequest(
        quantity=quantity,
        claim=claim_request(claim),
        units=units or asked.units,
        language=language,
        with_model=not no_model,
        carry_to=tuple(to or ()),
    )
    fitting = "" if no_model else ", and fitting the machine to them where builds are named"
    progress(f"Comparing the pulls{fitting} ...")
    if bundle is None:
        document = campaign_document(asked, request)
    else:
        contents = bundle_contents(asked, request, paper)
        document = contents.document
        write_bundle(bundle, contents, signer)
    pdf, page = write_document(document, (campaign / "report" if out is None else out) / "report", paper)
    typer.echo(f"{document.opening.sentence}\n{document.opening.standing}")
    typer.echo(f"\nPDF: {pdf}\nHTML: {page}\nCheck code: {document.check_code}")
    if bundle is not None:
        typer.echo(f"Bundle: {bundle}{'' if signer is None else ', signed'}")
