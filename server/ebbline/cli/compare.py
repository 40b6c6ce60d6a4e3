"""``ebbline compare``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from ebbline.campaigns.package.descriptor import Statement
from ebbline.campaigns.package.package import package
from ebbline.campaigns.package.tables import PackedSession
from ebbline.cli import comparison_summary, reading, summary
from ebbline.cli.console import console
from ebbline.cli.options import units_option
from ebbline.compare.comparison import compare
from ebbline.errors import InputError, MeasureError
from ebbline.exchange import comparison_document, result_document, session_file
from ebbline.exchange.drives import drive_of
from ebbline.measure.reserve.span import ZERO_KINDS
from ebbline.records.comparison import Drive, LeftOut
from ebbline.sessions.results.analysis import analyze_document
from ebbline.vocabulary import RESERVE_ENDS


@click.command("compare")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE…")
@click.option("--json", "as_json", is_flag=True, help="Print the comparison document.")
@click.option(
    "--zero", type=click.Choice(ZERO_KINDS), help="Zero of all sessions [default: what most take]"
)
@click.option(
    "--end",
    type=click.Choice(RESERVE_ENDS),
    help="End of all reserves [default: what most end with]",
)
@click.option(
    "--package",
    "package_file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="OUT.zip",
    help="Write it all as an open data package for others.",
)
@click.option("--with-sessions", is_flag=True, help="Session files into the package too.")
@click.option("--title", default="Campaign", show_default=True, help="Of the package.")
@click.option("--licence", help="Of the package: an SPDX identifier such as CC-BY-4.0, or a URL.")
@click.option("--tested-by", metavar="NAME", help="Of the package: who drove and recorded.")
@click.option("--contributor", "contributors", multiple=True, help="Who made it; once for each.")
@click.option("--source", "sources", multiple=True, help="Where it comes from; once for each.")
@units_option
def command(
    files: tuple[Path, ...],
    as_json: bool,
    zero: str | None,
    end: str | None,
    package_file: Path | None,
    with_sessions: bool,
    title: str,
    licence: str | None,
    tested_by: str | None,
    contributors: tuple[str, ...],
    sources: tuple[str, ...],
    units: str,
) -> None:
    """Say what many session files mean together. Nothing is stored."""
    statement = Statement(title, None, licence, contributors, sources, tested_by)
    drives: list[Drive] = []
    failed: list[LeftOut] = []
    packed: list[PackedSession] = []
    for file in files:
        document = _document(file)
        as_it_came = dict(document)
        protocol = document.get("protocol") or {}
        stated = {"zero_basis": zero, "reserve_end": end}
        document["protocol"] = {**protocol, **{key: said for key, said in stated.items() if said}}
        result = None
        try:
            result = _result(document)
            drives.append(drive_of(document, result))
        except MeasureError as error:
            failed.append(LeftOut(document["session"]["id"], str(error)))
        if package_file:
            packed.append(PackedSession(as_it_came if with_sessions else _slim(as_it_came), result))
    found = compare(drives, zero, end, failed)
    if package_file:
        content = package(
            comparison_document.to_document(found), packed, statement,
            with_sessions=with_sessions, chosen={"zero": zero, "end": end},
        )  # fmt: skip
        package_file.write_bytes(content)
    if as_json:
        sys.stdout.buffer.write(comparison_document.dump(found) + b"\n")
    else:
        comparison_summary.show(found, summary.UNITS[units], console())


def _document(file: Path) -> dict[str, Any]:
    try:
        document, _photos = session_file.load_file(reading.read(file))
    except InputError as error:
        raise InputError(f"{file}: {error.where}", error.problem) from error
    return document


def _result(document: dict[str, Any]) -> dict[str, Any]:
    result = analyze_document(document).result
    sha256 = session_file.sha256_of(session_file.dump_document(document))
    return result_document.to_document(result, sha256)


def _slim(document: dict[str, Any]) -> dict[str, Any]:
    """Without what fills memory where only tables are written."""
    return {**document, "breadcrumbs": [], "logs": []}
