"""The document that is frozen when a campaign is published: what it was made of, then its
comparison document.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ebbline.exchange.plain import plain
from ebbline.records.campaign import PublishedCampaign

FORMAT, VERSION = "ebbline-published-campaign", 1


def to_document(made_of: PublishedCampaign, comparison: Mapping[str, Any]) -> dict[str, Any]:
    """The document, version 1, as plain values; ``comparison`` is the comparison document."""
    return {
        "format": FORMAT,
        "version": VERSION,
        **plain(made_of, "campaign"),
        "comparison": comparison,
    }
