"""All modules of a page as one file, where the page needs them all at once.

Sixty small files are a third more to fetch than one: each is packed without what the others say
too, and each comes with headers. Every module keeps a scope of its own, and runs when it would by
ECMA-262 (16.2.1.5, evaluation): after all that it imports. None of ours imports itself by way of
others, which ``tests/pwa/test_layers.py`` holds, so that what is imported is there already.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from ebbline.web.modules import place

# Whole statements at the start of a line, as ours are written.
_IMPORT = re.compile(r'^import\s*(\{[^}]*\}|\*\s*as\s+[\w$]+)\s*from\s*"(\.[^"]+)";', re.MULTILINE)
_IMPORT_ONLY = re.compile(r'^import\s*"(\.[^"]+)";', re.MULTILINE)
_HANDED_ON = re.compile(r'^export\s*(\{[^}]*\}|\*)\s*from\s*"(\.[^"]+)";', re.MULTILINE)
_LISTED = re.compile(r"^export\s*\{([^}]*)\};", re.MULTILINE)
_DECLARED = re.compile(r"^export\s+((?:async\s+function|function|const|class)\s+([\w$]+))", re.M)
_LEFT = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)
_AS = re.compile(r"\s+as\s+")


def joined(entry: str, read: Callable[[str], str]) -> str:
    """A module and all that it needs, as one module.

    Args:
        entry: its path, with slashes.
        read: gives the text of a path.

    Raises:
        ValueError: a module imports or exports in a form that none of ours uses.
    """
    places: dict[str, int] = {}
    parts: list[str] = []

    def place_of(name: str, importer: str) -> str:
        path = place(name, importer)
        if path not in places:
            text = scoped(path)
            places[path] = len(places)
            parts.append(f"const ${places[path]} = (() => {{\n{text}\n}})();\n")
        return f"${places[path]}"

    def scoped(path: str) -> str:
        given: list[str] = []

        def take(found: re.Match[str]) -> str:
            names, source = found[1], place_of(found[2], path)
            if names.startswith("*"):
                return f"const {_AS.split(names)[1]} = {source};"
            return f"const {_AS.sub(': ', names)} = {source};"

        def need(found: re.Match[str]) -> str:
            place_of(found[1], path)
            return ""

        def hand_on(found: re.Match[str]) -> str:
            names, source = found[1], place_of(found[2], path)
            given.extend(
                [f"...{source}"]
                if names == "*"
                else [f"{given_as}: {source}.{own}" for own, given_as in _names(names[1:-1])]
            )
            return ""

        def declare(found: re.Match[str]) -> str:
            given.append(found[2])
            return found[1]

        def list_(found: re.Match[str]) -> str:
            given.extend(f"{given_as}: {own}" for own, given_as in _names(found[1]))
            return ""

        text = read(path)
        for form, put in (
            (_HANDED_ON, hand_on), (_IMPORT, take), (_IMPORT_ONLY, need),
            (_LISTED, list_), (_DECLARED, declare),
        ):  # fmt: skip
            text = form.sub(put, text)
        if unknown := _LEFT.search(text):
            raise ValueError(f"{path}: {unknown[0]!r} is no import or export that can be joined")
        return f"{text}\nreturn {{ {', '.join(given)} }};" if given else text

    last = scoped(entry)
    return "".join(parts) + last


def _names(listed: str) -> list[tuple[str, str]]:
    """Of ``a, b as c`` each name, and the name it is given out by."""
    names = [_AS.split(name.strip()) for name in listed.split(",") if name.strip()]
    return [(name[0], name[-1]) for name in names]
