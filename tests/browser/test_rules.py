"""The rules in the engine that runs them, and what serves where there is no Node."""

from __future__ import annotations

import javascript
import pytest
from rules.cases import ZERO, protocol
from rules.test_browser_rules import COUNT_FROM, answers, by_name


def test_the_browser_counts_from_the_same_zero(monkeypatch: pytest.MonkeyPatch) -> None:
    prepared = [{**case, "protocol": protocol(case)} for case in ZERO]
    monkeypatch.setattr(javascript, "find_node", lambda: None)
    assert answers("shared/rules.js", COUNT_FROM, ZERO, prepared) == by_name(ZERO, "zero")
