"""The files of a document: PDF, HTML and the JSON that its check code is the digest of, each written whole or not."""

from pathlib import Path

from boostwright.errors import Fault, FileError
from boostwright.publish.document import Document, Paper, document_json
from boostwright.publish.document_page import document_page
from boostwright.publish.pdf import document_pdf
from boostwright.records.atomic import write_atomically


def document_files(document: Document, paper: Paper) -> dict[str, bytes]:
    """The bytes of each file of a document by its ending."""
    return {
        ".pdf": document_pdf(document, paper),
        ".html": document_page(document).encode("utf-8"),
        ".json": document_json(document).encode("utf-8"),
    }


def write_document(document: Document, stem: Path, paper: Paper) -> tuple[Path, Path]:
    """Write the files of a document; others in the folder stay as they are. `stem` is their path without its ending.

    Returns
    -------
    tuple of Path
        The PDF and the HTML.
    """
    folder = stem.parent
    if folder.exists() and not folder.is_dir():
        remedy = "move that file away, or name another place with --out"
        fault = Fault(file=str(folder), problem="is a file where a folder would be", remedy=remedy)
        raise FileError([fault])
    for ending, data in document_files(document, paper).items():
        write_atomically(stem.with_name(stem.name + ending), data)
    return stem.with_name(f"{stem.name}.pdf"), stem.with_name(f"{stem.name}.html")
