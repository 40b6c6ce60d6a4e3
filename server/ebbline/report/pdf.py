"""The report as PDF, and its pages as pictures: set by Typst, which carries its own typefaces and
needs nothing of the system.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib import resources
from typing import Any

import orjson
import typst

from ebbline.report.build import build
from ebbline.report.charts import picture
from ebbline.report.content import Report
from ebbline.report.html import picture_names
from ebbline.report.look import PAGE
from ebbline.report.setting_out import Paper
from ebbline.report.subject import Subject

PREVIEW_PPI = 110.0
_NO_DATE = datetime(1970, 1, 1, tzinfo=UTC)  # the same session, the same bytes


def report_pdf(subject: Subject) -> bytes:
    """The report as tagged PDF on the paper asked for; the same subject gives the same bytes."""
    pdf: bytes = _set(subject, format="pdf", timestamp=_NO_DATE)
    return pdf


def report_pages(subject: Subject) -> list[bytes]:
    """Each page as a PNG to look at."""
    pages: bytes | list[bytes] = _set(subject, format="png", ppi=PREVIEW_PPI)
    return [pages] if isinstance(pages, bytes) else pages


def pdf_of(report: Report, pictures: Mapping[str, bytes]) -> bytes:
    """Any report of ours as tagged PDF; ``pictures`` are SVG by their names in it."""
    pdf: bytes = _compiled(report, pictures, "a4", format="pdf", timestamp=_NO_DATE)
    return pdf


def _set(subject: Subject, **how: Any) -> Any:
    report = build(subject)
    pictures = {name: picture(subject, name, PAGE, "svg") for name in picture_names(report)}
    return _compiled(report, pictures, subject.out.paper, **how)


def _compiled(report: Report, pictures: Mapping[str, bytes], paper: Paper, **how: Any) -> Any:
    template = resources.files("ebbline.report") / "templates" / "report.typ"
    files: Any = {  # what Typst reads; nothing of it is on disk
        "main.typ": template.read_bytes(),
        "report.json": orjson.dumps(dataclasses.asdict(report)),
        **{f"{name}.svg": svg for name, svg in pictures.items()},
    }  # its types don't know yet that it takes several files
    return typst.compile(files, ignore_system_fonts=True, sys_inputs={"paper": paper}, **how)
