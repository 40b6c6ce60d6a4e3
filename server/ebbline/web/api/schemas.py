"""What goes over the wire: envelopes that refuse unknown keys, records that keep them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask_smorest import Api
from marshmallow import INCLUDE, RAISE, Schema, fields, validate

from ebbline.exchange.document import FORMAT, VERSION
from ebbline.exchange.fields import Flag, Plain
from ebbline.exchange.json_schema.of_fields import Definitions, of
from ebbline.exchange.schemas import EventSchema, PhotoSchema, ReadingSchema, SetupSchema
from ebbline.sessions.records.uploads import MOST_ENTRIES, MOST_RECORDS


def describe_fields(api: Api) -> None:
    """Say in the API's description what the session file's own fields take."""
    api.register_field(Plain, None, None)
    api.ma_plugin.converter.add_attribute_function(_own)


def _own(_converter: object, field: fields.Field[Any], **_kwargs: Any) -> dict[str, Any]:
    """As the session file's JSON Schema has it; OpenAPI 3.1 speaks the same."""
    return of(field, Definitions()) if isinstance(field, Plain) else {}


class AsItCame(fields.Nested):
    """Described by a schema, handed through as it is: records are judged one by one, later."""

    def _deserialize(
        self,
        value: Any,
        attr: str | None,
        data: Mapping[str, Any] | None,
        partial: Any = None,
        **kwargs: Any,
    ) -> Any:
        return value

    def _serialize(  # type: ignore[override]  # marshmallow's own two differ
        self, nested_obj: Any, attr: Any, obj: Any, **kwargs: Any
    ) -> Any:
        return nested_obj


class AsTheyCame(fields.List[Any]):
    """The same of many, without looking at each."""

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        if not isinstance(value, list):
            raise self.make_error("invalid")
        return value


class Closed(Schema):
    """An envelope: a misspelt key must fail, not vanish."""

    class Meta:
        unknown = RAISE


def column(of: type[fields.Field[Any]], *, nulls: bool = True, **kwargs: Any) -> Any:
    """One column of fixes, null where a value is not known."""
    return fields.List(of(allow_none=nulls), **kwargs)


class TimeSchema(Closed):
    """The server's clock."""

    server_ms = fields.Integer(
        required=True, metadata={"description": "Milliseconds since the Unix epoch."}
    )


class BreadcrumbsSchema(Schema):
    """Fixes of one device: columns of one length, ``seq`` strictly rising, ``t_ms`` never going
    back. Where a clock was set back, start another entry.
    """

    class Meta:
        unknown = INCLUDE

    device = fields.String(required=True)
    seq = column(fields.Integer, nulls=False, required=True)
    t_ms = column(fields.Integer, nulls=False, required=True)
    lat = column(fields.Float, nulls=False, required=True)
    lon = column(fields.Float, nulls=False, required=True)
    accuracy_m = column(fields.Float, metadata={"description": "95 % radius."})
    speed_mps = column(fields.Float)
    heading_deg = column(fields.Float)
    altitude_m = column(fields.Float)
    fix_ms = column(fields.Float, metadata={"description": "The fix's own time stamp."})
    wall_ms = column(fields.Float, metadata={"description": "The device's wall clock."})
    mono_ms = column(fields.Float, metadata={"description": "The page's monotonic clock."})
    page = column(fields.String, metadata={"description": "Which load of the page."})


class ClockCheckSchema(Schema):
    """A device's clock compared with the server's by one round trip."""

    class Meta:
        unknown = INCLUDE

    id = fields.String(required=True)
    device = fields.String(required=True)
    t_ms = fields.Integer(required=True, metadata={"description": "By the device's clock."})
    offset_ms = fields.Float(
        required=True, metadata={"description": "Add to the device's time to get the server's."}
    )
    round_trip_ms = fields.Float(required=True, validate=validate.Range(min=0))


class SessionFileSchema(SetupSchema):
    """A session file. Unknown keys are kept."""

    format = fields.String(required=True, validate=validate.Equal(FORMAT))
    version = fields.Integer(required=True, validate=validate.Equal(VERSION))
    breadcrumbs = fields.List(fields.Nested(BreadcrumbsSchema), allow_none=True)
    events = fields.List(fields.Nested(EventSchema), allow_none=True)
    readings = fields.List(fields.Nested(ReadingSchema), allow_none=True)
    photos = fields.List(fields.Nested(PhotoSchema), allow_none=True)


def _bounded(of: type[Schema], most: int) -> Any:
    """A list whose bound is told here and kept where records are taken in."""
    return AsTheyCame(AsItCame(of), load_default=list, metadata={"maxItems": most})


class UploadSchema(Closed):
    """Records from one device; each is judged for itself. More than one upload may hold is refused
    with 413 and stores nothing: send it in parts. With ``sole`` all of it is refused with
    409 when a correction in it is of a record that has another correction already.
    """

    device = fields.String(
        required=True, validate=validate.Length(1, 100), metadata={"description": "Who sends."}
    )
    events = _bounded(EventSchema, MOST_RECORDS)
    readings = _bounded(ReadingSchema, MOST_RECORDS)
    breadcrumbs = _bounded(BreadcrumbsSchema, MOST_ENTRIES)
    clock_checks = _bounded(ClockCheckSchema, MOST_RECORDS)
    sole = Flag()


class HeldFixesSchema(Closed):
    """Fixes of one device that the server holds, as runs of ``seq``, both ends included."""

    device = fields.String(required=True)
    ranges = fields.List(
        fields.List(fields.Integer(), validate=validate.Length(equal=2)), required=True
    )


class HeldSchema(Closed):
    """What of this upload the server now holds durably."""

    events = fields.List(fields.String(), required=True)
    readings = fields.List(fields.String(), required=True)
    breadcrumbs = fields.List(fields.Nested(HeldFixesSchema), required=True)
    clock_checks = fields.List(fields.String(), required=True)


class RefusalSchema(Closed):
    """A record that was not taken; the others were."""

    kind = fields.String(
        required=True,
        validate=validate.OneOf(["event", "reading", "breadcrumbs", "clock_check"]),
    )
    id = fields.String(required=True, allow_none=True)
    where = fields.String(required=True, metadata={"description": "For example events[0].t_ms."})
    problem = fields.String(required=True)


class HoldsSchema(Closed):
    """How much the server holds of the sending device in this session, in all. Less than it said
    before: the server lost some (an older copy was put back), and the device sends all again.
    """

    events = fields.Integer(required=True)
    readings = fields.Integer(required=True)
    clock_checks = fields.Integer(required=True)
    fixes = fields.Integer(required=True)
    photos = fields.Integer(required=True)
    revision = fields.Integer(required=True, metadata={"description": "Of the set-up."})


class ReceiptSchema(Closed):
    """The answer to an upload."""

    server_ms = fields.Integer(required=True)
    held = fields.Nested(HeldSchema, required=True)
    refused = fields.List(fields.Nested(RefusalSchema), required=True)
    holds = fields.Nested(HoldsSchema, required=True)


class SetupChangeSchema(Closed):
    """A new set-up and the revision it was made from (null for a new session)."""

    base = fields.Integer(required=True, allow_none=True, strict=True)
    setup = AsItCame(SetupSchema, required=True)


class SetupRevisionSchema(Closed):
    """The set-up as it stands."""

    id = fields.UUID(required=True)
    revision = fields.Integer(required=True)
    setup = AsItCame(SetupSchema, required=True)


class ImportedFileSchema(Closed):
    """What one GPX or CSV file brought for one device; times by that device's clock."""

    name = fields.String(required=True, metadata={"description": "The file's."})
    sha256 = fields.String(required=True)
    device = fields.String(required=True)
    taken_at = fields.String(required=True, metadata={"description": "RFC 3339."})
    fixes = fields.Integer(required=True)
    events = fields.Integer(required=True)
    log_rows = fields.Integer(required=True)
    from_ms = fields.Integer(required=True)
    to_ms = fields.Integer(required=True)


class RecordedSchema(Closed):
    """Everything a session holds but its fixes: originals and corrections alike."""

    id = fields.UUID(required=True)
    revision = fields.Integer(required=True)
    setup = AsItCame(SetupSchema, required=True)
    events = fields.List(AsItCame(EventSchema), required=True)
    readings = fields.List(AsItCame(ReadingSchema), required=True)
    photos = fields.List(AsItCame(PhotoSchema), required=True)
    clock_checks = fields.List(AsItCame(ClockCheckSchema), required=True)
    imported_files = fields.List(fields.Nested(ImportedFileSchema), required=True)
    fix_count = fields.Integer(required=True)
    archived = fields.Boolean(required=True)


class RevisionSchema(Closed):
    """One revision of a set-up."""

    revision = fields.Integer(required=True)
    saved_at = fields.String(required=True, metadata={"description": "RFC 3339."})
    setup = AsItCame(SetupSchema, required=True)


class RevisionsSchema(Closed):
    """Every revision of a set-up, the first one first."""

    revisions = fields.List(fields.Nested(RevisionSchema), required=True)


class ArchivedSchema(Closed):
    """Whether a session is put away."""

    archived = fields.Boolean(required=True, truthy={True}, falsy={False})


class ImportedSchema(Closed):
    """What a file brought, and the revision its session's set-up is now at."""

    id = fields.UUID(required=True)
    events = fields.Integer(required=True)
    readings = fields.Integer(required=True)
    fixes = fields.Integer(required=True)
    revision = fields.Integer(required=True)


class ConflictSchema(Closed):
    """Two corrections of one record."""

    id = fields.String(required=True, metadata={"description": "The record corrected."})
    yours = fields.Dict(required=True)
    held = fields.Dict(required=True)


class RefusedSchema(Closed):
    """Why a request was refused."""

    code = fields.Integer(required=True, metadata={"description": "The HTTP status."})
    status = fields.String(required=True, metadata={"description": "Its name."})
    message = fields.String(required=True, metadata={"description": "What is wrong, and where."})
    where = fields.String(metadata={"description": "The place in what was sent."})
    errors = fields.Dict(metadata={"description": "Complaints by place, from the envelope."})
    reason = fields.String(
        metadata={
            "description": "With 401, 403, 429, in one word: sign_in, wrong_password, too_often, "
            "key_missing, key_unknown, key_revoked, key_of_another, only_looks, not_for_phones, "
            "foreign_page."
        }
    )
    held = fields.Dict(metadata={"description": "With 409: what is here instead."})
    conflicts = fields.List(
        fields.Nested(ConflictSchema),
        metadata={"description": "With 409 to a 'sole' upload: the corrections in the way."},
    )
