"""The session file as the rest of Ebbline knows it: one door to reading, checking and writing."""

from ebbline.exchange.archive import (
    MAX_ARCHIVE_BYTES,
    dump_archive,
    is_archive,
    load_archive,
    load_file,
    refuse_size,
    sha256_of,
)
from ebbline.exchange.columns import check_breadcrumbs
from ebbline.exchange.document import (
    FORMAT,
    MAX_FILE_BYTES,
    VERSION,
    check_document,
    check_event,
    check_photo,
    check_reading,
    check_setup,
    dump_document,
    load_document,
    setup_of,
)
from ebbline.exchange.logs import check_log
from ebbline.exchange.view import to_session

__all__ = [
    "FORMAT",
    "MAX_ARCHIVE_BYTES",
    "MAX_FILE_BYTES",
    "VERSION",
    "check_breadcrumbs",
    "check_document",
    "check_event",
    "check_log",
    "check_photo",
    "check_reading",
    "check_setup",
    "dump_archive",
    "dump_document",
    "is_archive",
    "load_archive",
    "load_document",
    "load_file",
    "refuse_size",
    "setup_of",
    "sha256_of",
    "to_session",
]
