"""Words for what a session records, as ``pwa/shared/vocabulary.js`` has them."""

from __future__ import annotations

from typing import Any

from ebbline.measure.naming import event_name

ZERO_NAMES = {
    "zero_soc": "0 % shown",
    "zero_range": "0 range shown",
    "moment": "a moment that was chosen",
}


def event_words(event: dict[str, Any]) -> str:
    """One event in words: what it was and what was noted with it."""
    kind, value, text = event["kind"], event.get("value"), event.get("text")
    if kind == "soc_step" and value is not None:
        words = f"{value:g} % shown"
    elif kind == "speed_capped" and value is not None:
        words = f"Top speed capped: {value:g} {event.get('unit') or ''} shown".replace("  ", " ")
    elif kind == "warning" and text:
        return f"\u201c{text}\u201d"
    elif kind == "note" and text:
        return str(text)
    else:
        words = event_name(kind)
        if value is not None and kind not in ("zero_soc", "zero_range"):
            words += f": {value:g} {event.get('unit') or ''}".rstrip()
    return f"{words} \u2013 {text}" if text else words
