"""A document as one HTML file with its fonts and figures inside, the same bytes for the same document."""

import re
from typing import Any

from markupsafe import Markup, escape

from boostwright.publish.document import Document, page_data
from boostwright.publish.html_page import announced, environment, style

_WHOLE = re.compile(r"[+−]?\d[\d.,]*[\u202f–][+−\d.,\u202f–]*(?:\u00a0(?:rev|1)/min)?|(?:rev|1|lb|L)/min")
_AS_IS = ("kind", "side", "svg", "spoken", "language", "title")


def document_page(document: Document) -> str:
    """Set a document as a page that asks the network for nothing."""
    data = _unbroken(page_data(document))
    pictures = [block for part in (data["opening"], *data["sections"]) for block in part["blocks"] if "svg" in block]
    for place, picture in enumerate(pictures):
        picture["drawing"] = announced(picture["svg"], f"picture-{place}", picture["spoken"])
    look = style() + Markup(environment().get_template("document.css").render())
    return environment().get_template("document.html").render(document=data, style=look).lstrip()


def _unbroken(data: Any) -> Any:
    """The same data as markup in which the end of a line tears no number, range or unit; drawings stay as drawn."""
    if isinstance(data, str):
        return Markup(_WHOLE.sub(r'<span class="whole">\g<0></span>', str(escape(data))))
    if isinstance(data, dict):
        return {key: value if key in _AS_IS else _unbroken(value) for key, value in data.items()}
    return [_unbroken(value) for value in data] if isinstance(data, list | tuple) else data
