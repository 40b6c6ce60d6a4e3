"""The findings of an analysis, gathered as its steps are taken."""

from __future__ import annotations

from typing import TypeVar

from ebbline.records.result import Finding

_Part = TypeVar("_Part")


class Findings(list[Finding]):
    """What the reader of the figures must know, in the order of the steps that found it."""

    def of(self, step: tuple[_Part, list[Finding]]) -> _Part:
        """A step's part of the result; its findings are kept here."""
        part, said = step
        self.extend(said)
        return part
