"""Every fault once, in one session: what the screen confirmed is on the server, exactly once.

``python -m tests.faults`` runs hundreds of sessions with other seeds.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from faults.chromium import Chromium
from faults.faults import FAULTS
from faults.laptop import Laptop
from faults.ledger import Ledger
from faults.running import run
from faults.verdict import Verdict, judge
from faults.world import World
from playwright.sync_api import Playwright

pytestmark = pytest.mark.slow


def test_nothing_confirmed_is_lost_or_doubled(player: Playwright, tmp_path: Path) -> None:
    names = list(FAULTS)
    laptop = Laptop(tmp_path)
    try:
        world = World(player, laptop)
        try:
            verdict = run(world, seed=7, names=names)
        finally:
            world.close()
    finally:
        laptop.close()
    assert (verdict.lost, verdict.doubled, verdict.wrong) == ([], [], [])
    assert verdict.confirmed > len(names)
    assert verdict.fixes > 0


def test_a_withdrawal_that_undo_did_not_name_is_found_out() -> None:
    def event(name: str, kind: str, corrects: str | None = None) -> dict[str, Any]:
        return {"id": name, "device": "p", "kind": kind, "mono_ms": 5, "corrects": corrects}

    charge = event("a", "charge_start")
    back = {**event("b", "note", corrects="a"), "withdraws": True}
    held = {"events": [charge, back], "readings": [], "breadcrumbs": []}
    for offered, line, faults in (
        ("Undo: Charging starts", "Stored 10:00:00 · Charging starts", 0),
        ("Undo: Charging starts", "Recording goes on. Last: 10:00:00 · Charging starts", 0),
        ("Undo: Charging starts", "Stored 10:00:50 · photo", 1),  # beside something else
        ("Undo: Trip reset", "Stored 10:00:50 · Trip reset", 1),  # another was taken
        ("Undo", "Recording. Tap what happens.", 2),
    ):
        ledger = Ledger()
        ledger.touched("charge_start", 5, 0.0)
        ledger.undone(offered, line)
        verdict = Verdict()
        judge(verdict, ledger, "p", held, {"fixes": []})
        assert len(verdict.wrong) == faults, (offered, line, verdict.wrong)


def test_a_missing_browser_is_a_failure(
    player: Playwright, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EBBLINE_CHROMIUM", str(tmp_path / "none"))
    with pytest.raises(RuntimeError, match="Chromium or Chrome browser is needed"):
        Chromium(player, tmp_path / "profile").start()
