"""``ebbline compare``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

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
@units_option
def command(
    files: tuple[Path, ...], as_json: bool, zero: str | None, end: str | None, units: str
) -> None:
    """Say what many session files mean together. Nothing is stored."""
    drives: list[Drive] = []
    failed: list[LeftOut] = []
    for file in files:
        document = _document(file)
        protocol = document.get("protocol") or {}
        stated = {"zero_basis": zero, "reserve_end": end}
        document["protocol"] = {**protocol, **{key: said for key, said in stated.items() if said}}
        try:
            drives.append(_drive(document))
        except MeasureError as error:
            failed.append(LeftOut(document["session"]["id"], str(error)))
    found = compare(drives, zero, end, failed)
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


def _drive(document: dict[str, Any]) -> Drive:
    result = analyze_document(document).result
    sha256 = session_file.sha256_of(session_file.dump_document(document))
    return drive_of(document, result_document.to_document(result, sha256))
