"""``ebbline analyze``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from ebbline.cli import reading, summary
from ebbline.cli.console import console
from ebbline.cli.options import units_option
from ebbline.exchange import result_document, session_file
from ebbline.sessions.results.analysis import analyze_document


@click.command("analyze")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the result document.")
@units_option
def command(file: Path, as_json: bool, units: str) -> None:
    """Say what a session file means. Nothing is stored."""
    data = reading.read(file)
    document, _photos = session_file.load_file(data)
    result = analyze_document(document).result
    if as_json:
        written = result_document.dump(result, session_file.sha256_of(data))
        sys.stdout.buffer.write(written + b"\n")
    else:
        summary.show(result, document, summary.UNITS[units], console())
