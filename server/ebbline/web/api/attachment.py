"""How an answer says what it is called once it is saved."""

from __future__ import annotations

from urllib.parse import quote


def attachment(name: str) -> dict[str, str]:
    """The header (RFC 6266): the name in ASCII, and whole where it has more than that."""
    plain = name.encode("ascii", "replace").decode().replace("?", "-").replace('"', "-")
    whole = "" if plain == name else f"; filename*=UTF-8''{quote(name, safe='')}"
    return {"Content-Disposition": f'attachment; filename="{plain}"{whole}'}
