"""Documents as one self-contained HTML page: pictures inside, no scripts, nothing fetched."""

from __future__ import annotations

import base64
from functools import lru_cache

import jinja2

from stampreader.report.page import Block, Document, written
from stampreader.words import CAUTION


def document_html(*documents: Document) -> str:
    """One or more documents as one HTML page; every text is escaped."""
    document, printing = documents[0], documents[0].printing
    return _template().render(
        documents=documents,
        first=document,
        caution=CAUTION,
        paper=f"{printing.paper.name} {'landscape' if document.wide else 'portrait'}",
        printed=f"{written(printing.printed_at)} {printing.printed_at:%Z}".rstrip(),
    )


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    page = jinja2.Environment(
        loader=jinja2.PackageLoader("stampreader.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    page.globals.update(kind_of=_kind_of, written=written, data_uri=_data_uri)
    return page.get_template("document.html")


def _kind_of(block: Block) -> str:
    return type(block).__name__


def _data_uri(data: bytes) -> str:
    kind = "png" if data.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"
