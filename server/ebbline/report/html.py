"""The report as one HTML file that needs nothing else and prints well."""

from __future__ import annotations

import base64
from importlib import resources

from jinja2 import Environment, PackageLoader, StrictUndefined

from ebbline.report.build import build
from ebbline.report.charts import picture
from ebbline.report.content import Picture, Report
from ebbline.report.look import PAGE
from ebbline.report.subject import Subject

_TEMPLATES = Environment(
    loader=PackageLoader("ebbline.report"),
    autoescape=True,  # titles and notes are what somebody typed
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def report_html(subject: Subject) -> bytes:
    """The report as UTF-8 HTML, pictures and style in it."""
    report = build(subject)
    style = (resources.files("ebbline.report") / "templates" / "report.css").read_text("utf-8")
    page = _TEMPLATES.get_template("report.html").render(
        report=report,
        style=style,
        pictures={
            name: base64.b64encode(picture(subject, name, PAGE, "svg")).decode()
            for name in picture_names(report)
        },
    )
    return page.encode()


def picture_names(report: Report) -> list[str]:
    """The pictures that stand in a report."""
    return [
        block.name
        for section in report.sections
        for block in section.blocks
        if isinstance(block, Picture)
    ]
