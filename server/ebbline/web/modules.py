"""Modules and sheets as text: what one needs of others, and what of it a browser needs."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable, Iterable

# At the start of a line, as our modules are written; in comments imports name types.
_STATIC = re.compile(r'^(?:import|export)\s*(?:[\w$*{},\s]+?\bfrom\s*)?"(\.[^"]+)"', re.MULTILINE)
# Of whole lines only, as ours are: so none within code, and no line gets another number.
_DOC_COMMENT = re.compile(r"^[ \t]*/\*\*(?:(?!\*/).)*\*/[ \t]*$", re.MULTILINE | re.DOTALL)
_TYPE = re.compile(r"/\*\* @(?:(?!\*/).)*\*/[ \t]?")  # within a line of code
_WORDS = re.compile(r"(?:^|[ \t]+)// .*$", re.MULTILINE)
_SHEET_WORDS = re.compile(r"/\*(?:(?!\*/).)*\*/", re.DOTALL)
_INDENT = re.compile(r"^[ \t]+", re.MULTILINE)
_LATER = re.compile(r'\bawait import\("(\.[^"]+)"\)')


def reached(
    entries: Iterable[str], read: Callable[[str], str], *, later: bool = False
) -> tuple[str, ...]:
    """All modules that these need: themselves first, then level by level, each once.

    Args:
        entries: paths, with slashes.
        read: gives the text of a path.
        later: those too that are imported while the page runs.
    """
    found = dict.fromkeys(entries)
    waiting = list(found)
    for path in waiting:  # grows as we go
        text = read(path)
        names = [*_STATIC.findall(text), *(_LATER.findall(text) if later else [])]
        for name in names:
            needed = place(name, path)
            if needed not in found:
                found[needed] = None
                waiting.append(needed)
    return tuple(found)


def place(name: str, importer: str) -> str:
    """The path of a module by the name that another one, at ``importer``, has for it."""
    return posixpath.normpath(posixpath.join(posixpath.dirname(importer), name))


def undocumented(text: str) -> str:
    """A module as a browser needs it, line for line: words and types are for those who read it.

    They are a quarter of what a phone would have to fetch. Lines keep their indentation where a
    template of the module runs over several: there it is part of the text.
    """
    text = _DOC_COMMENT.sub(lambda found: "\n" * found[0].count("\n"), text)
    text = _WORDS.sub("", _TYPE.sub("", text))
    if any(line.count("`") % 2 for line in text.splitlines()):
        return text
    return _INDENT.sub("", text)


def undocumented_sheet(text: str) -> str:
    """A style sheet as a browser needs it, line for line."""
    bare = _SHEET_WORDS.sub(lambda found: "\n" * found[0].count("\n"), text)
    return _INDENT.sub("", bare)
