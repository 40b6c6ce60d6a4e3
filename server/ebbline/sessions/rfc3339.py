"""Moments as the API writes them."""

from __future__ import annotations

from datetime import UTC, datetime


def rfc3339(t_ms: int) -> str:
    """Milliseconds since the Unix epoch as RFC 3339, in UTC."""
    return datetime.fromtimestamp(t_ms / 1000, UTC).isoformat()
