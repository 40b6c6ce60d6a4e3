"""The report as PDF, and its pages as pictures: set by Typst, which carries its own typefaces and
needs nothing of the system.
"""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from importlib import resources
from typing import Any

import orjson
import typst

from ebbline.report.build import build
from ebbline.report.charts import picture
from ebbline.report.html import picture_names
from ebbline.report.look import PAGE
from ebbline.report.subject import Subject

PREVIEW_PPI = 110.0
_NO_DATE = datetime(1970, 1, 1, tzinfo=UTC)  # the same session, the same bytes


def report_pdf(subject: Subject) -> bytes:
    """The report as tagged PDF on A4; the same subject gives the same bytes."""
    pdf: bytes = _set(subject, format="pdf", timestamp=_NO_DATE)
    return pdf


def report_pages(subject: Subject) -> list[bytes]:
    """Each page as a PNG to look at."""
    pages: bytes | list[bytes] = _set(subject, format="png", ppi=PREVIEW_PPI)
    return [pages] if isinstance(pages, bytes) else pages


def _set(subject: Subject, **how: Any) -> Any:
    files: Any = _files(subject)  # its types don't know yet that it takes several files
    return typst.compile(files, ignore_system_fonts=True, **how)


def _files(subject: Subject) -> dict[str, bytes]:
    """What Typst reads: our template, the words, the pictures. Nothing of it is on disk."""
    report = build(subject)
    template = resources.files("ebbline.report") / "templates" / "report.typ"
    return {
        "main.typ": template.read_bytes(),
        "report.json": orjson.dumps(dataclasses.asdict(report)),
        **{f"{name}.svg": picture(subject, name, PAGE, "svg") for name in picture_names(report)},
    }
