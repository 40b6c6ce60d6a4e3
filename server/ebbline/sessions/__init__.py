"""What users ask for, as plain functions over a database session; web and cli call these alike."""

from ebbline.exchange.archive import MAX_PHOTO_BYTES
from ebbline.exchange.pictures import MEDIA_TYPES as PICTURE_TYPES
from ebbline.exchange.session_file import MAX_FILE_BYTES
from ebbline.sessions.accounts import (
    Account,
    account,
    accounts,
    add_account,
    remove_account,
    sign_in,
)
from ebbline.sessions.evidence import (
    Stated,
    Taken,
    add_evidence,
    add_read,
    create_for,
    read_evidence,
)
from ebbline.sessions.files import (
    MOST_BYTES,
    RUN_KEYS,
    Exported,
    Imported,
    export_document,
    export_file,
    import_file,
    read_file,
    refuse_size,
    sha256_of,
)
from ebbline.sessions.finding import Wanted
from ebbline.sessions.intake import Receipt, Refusal, Upload, store_records
from ebbline.sessions.keys import (
    LONGEST_LABEL,
    Key,
    NewKey,
    key_of_token,
    keys,
    make_key,
    revoke_key,
)
from ebbline.sessions.listing import (
    Overview,
    Recorded,
    list_sessions,
    recorded,
    set_archived,
    work_out,
)
from ebbline.sessions.live import cursor, live_of
from ebbline.sessions.photos import Picture, add_photo, photo
from ebbline.sessions.results import (
    analysis_of,
    analysis_of_document,
    export_csv,
    export_gpx,
    result_of,
    trial,
)
from ebbline.sessions.setups import Revision, current_setup, put_setup, revisions

__all__ = [
    "LONGEST_LABEL",
    "MAX_FILE_BYTES",
    "MAX_PHOTO_BYTES",
    "MOST_BYTES",
    "PICTURE_TYPES",
    "RUN_KEYS",
    "Account",
    "Exported",
    "Imported",
    "Key",
    "NewKey",
    "Overview",
    "Picture",
    "Receipt",
    "Recorded",
    "Refusal",
    "Revision",
    "Stated",
    "Taken",
    "Upload",
    "Wanted",
    "account",
    "accounts",
    "add_account",
    "add_evidence",
    "add_photo",
    "add_read",
    "analysis_of",
    "analysis_of_document",
    "create_for",
    "current_setup",
    "cursor",
    "export_csv",
    "export_document",
    "export_file",
    "export_gpx",
    "import_file",
    "key_of_token",
    "keys",
    "list_sessions",
    "live_of",
    "make_key",
    "photo",
    "put_setup",
    "read_evidence",
    "read_file",
    "recorded",
    "refuse_size",
    "remove_account",
    "result_of",
    "revisions",
    "revoke_key",
    "set_archived",
    "sha256_of",
    "sign_in",
    "store_records",
    "trial",
    "work_out",
]
