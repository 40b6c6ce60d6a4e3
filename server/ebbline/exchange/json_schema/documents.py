"""The JSON Schema of each of our documents.

What they can't say stands in ``$comment``: it is checked by the program all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from ebbline.exchange import comparison_document, published_campaign, result_document
from ebbline.exchange.columns import LARGEST_SEQ, NUMBER_COLUMNS, TEXT_COLUMNS, Range
from ebbline.exchange.document import FORMAT, MAX_RECORDS, VERSION
from ebbline.exchange.fields import Moment, Name, Sha256
from ebbline.exchange.film_time import LONGEST_FILM_MS
from ebbline.exchange.json_schema import of_records
from ebbline.exchange.json_schema.of_fields import (
    Definitions,
    Described,
    column,
    nullable,
    number,
    object_of,
    own,
)
from ebbline.exchange.logs import LOG_COLUMNS, MAX_ROWS, LogSchema
from ebbline.exchange.schemas import EventSchema, PhotoSchema, ReadingSchema, SetupSchema
from ebbline.records.campaign import PublishedCampaign
from ebbline.records.comparison import Comparison
from ebbline.records.result import Result

DRAFT = "https://json-schema.org/draft/2020-12/schema"

_SESSION_BEYOND = (
    "Besides, which JSON Schema can't say: the columns of an entry have one length; seq rises "
    "strictly within an entry and a device numbers each fix once; t_ms never goes back within an "
    "entry; ids are unique within devices, events and readings, hashes within photos, device and "
    "source within logs; corrections lead back to no record itself; the lower speed of a band "
    "comes first; film time, counted from the first frame, is for devices of kind film; an "
    "exclusion and a display's change end after they begin, and a change changes something; times "
    "exist in the calendar, zones in the "
    "IANA database; a whole number is written without fraction (5, not 5.0); numbers have at most "
    "64 bits, nesting at most 64 levels, and no key appears twice in an object."
)
_FIGURES_BEYOND = (
    "Besides, which JSON Schema can't say: the value of a figure lies between its low and high."
)


def session_schema() -> Described:
    """The session file."""
    definitions = Definitions()
    setup = object_of(SetupSchema, definitions)
    records = {
        "breadcrumbs": _breadcrumbs(),
        "events": definitions.ref(EventSchema),
        "readings": definitions.ref(ReadingSchema),
        "photos": definitions.ref(PhotoSchema),
        "logs": _log(definitions),
    }
    for key in ("Event", "Reading"):
        _or_film_time(definitions.found[key])
    lists = {
        key: {"type": ["array", "null"], "items": items, "maxItems": MAX_RECORDS}
        for key, items in records.items()
    }
    return {
        "$schema": DRAFT,
        "title": "Ebbline session file",
        "description": "A recorded session. SI unless a key says otherwise; null is 'not known'; "
        "unknown keys are kept.",
        "$comment": _SESSION_BEYOND,
        "type": "object",
        "properties": {**_named(FORMAT, VERSION), **setup["properties"], **lists},
        "required": ["format", "version", *setup["required"]],
        "$defs": definitions.found,
    }


def result_schema() -> Described:
    """The result document."""
    digest = own(Sha256(required=True))
    found = {"input_sha256": digest, "engine": {"type": "string"}}
    return _document(
        Result, "Ebbline result", result_document.FORMAT, result_document.VERSION, found
    )


def comparison_schema() -> Described:
    """The comparison document."""
    return _document(
        Comparison,
        "Ebbline comparison",
        comparison_document.FORMAT,
        comparison_document.VERSION,
        {"engine": {"type": "string"}},
    )


def published_campaign_schema() -> Described:
    """What is frozen when a campaign is published."""
    found = _document(
        PublishedCampaign,
        "Ebbline published campaign",
        published_campaign.FORMAT,
        published_campaign.VERSION,
        {},
    )
    comparison = comparison_schema()
    found["$defs"] |= comparison.pop("$defs")
    del comparison["$schema"]
    found["properties"]["comparison"] = comparison
    found["required"].append("comparison")
    return found


SCHEMAS: Mapping[str, Callable[[], Described]] = MappingProxyType(
    {
        "session": session_schema,
        "result": result_schema,
        "comparison": comparison_schema,
        "published-campaign": published_campaign_schema,
    }
)


def _or_film_time(record: Described) -> None:
    film = {"type": "integer", "minimum": 0, "exclusiveMaximum": LONGEST_FILM_MS}
    keys = record["properties"]
    for key in keys.keys() & {"t_ms", "t_to_ms"}:
        keys[key] = {"anyOf": [*keys[key].get("anyOf", [keys[key]]), film]}


def _named(format_: str, version: int) -> dict[str, Any]:
    return {"format": {"const": format_}, "version": {"type": "integer", "const": version}}


def _document(
    record: type, title: str, format_: str, version: int, found: Mapping[str, Described]
) -> Described:
    definitions: dict[str, Described] = {}
    described = of_records.object_of(record, definitions)
    named = {**_named(format_, version), **found}
    return {
        "$schema": DRAFT,
        "title": title,
        "$comment": _FIGURES_BEYOND,
        **described,
        "properties": {**named, **described["properties"]},
        "required": [*named, *described["required"]],
        "$defs": definitions,
    }


def _breadcrumbs() -> Described:
    seq = {"type": "integer", "minimum": 0, "maximum": LARGEST_SEQ}
    needed = [name for name, taken in NUMBER_COLUMNS.items() if taken.required]
    return {
        "type": "object",
        "description": "Fixes of one device, as columns of one length in the order of seq.",
        "properties": {
            "device": own(Name(required=True)),
            "seq": column(seq, nulls=False),
            "t_ms": column(own(Moment(required=True)), nulls=False),
            **_columns(NUMBER_COLUMNS),
            **{name: nullable(column({"type": "string"}, nulls=True)) for name in TEXT_COLUMNS},
        },
        "required": ["device", "seq", "t_ms", *needed],
    }


def _log(definitions: Definitions) -> Described:
    head = object_of(LogSchema, definitions)
    t_ms = {**column(own(Moment(required=True)), nulls=False), "maxItems": MAX_ROWS}
    return {
        **head,
        "properties": {**head["properties"], "t_ms": t_ms, **_columns(LOG_COLUMNS)},
        "required": [*head["required"], "t_ms"],
    }


def _columns(columns: Mapping[str, Range]) -> dict[str, Described]:
    described = {}
    for name, taken in columns.items():
        items = column(number(taken.low, taken.high), nulls=taken.nulls)
        described[name] = items if taken.required else nullable(items)
    return described
