"""``ebbline schema``."""

from __future__ import annotations

import json

import click

from ebbline.exchange.json_schema.documents import SCHEMAS


@click.command("schema")
@click.argument("document", type=click.Choice(list(SCHEMAS)))
def command(document: str) -> None:
    """Print the JSON Schema of one of our documents."""
    click.echo(json.dumps(SCHEMAS[document](), indent=2, ensure_ascii=False))
