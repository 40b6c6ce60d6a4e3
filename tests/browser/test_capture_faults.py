"""Every fault once, in two sessions: what the screen confirmed is on the server, exactly once.

``python -m tests.faults`` runs hundreds of sessions with other seeds.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from faults.chromium import Chromium
from faults.faults import FAULTS
from faults.laptop import Laptop
from faults.running import run
from faults.world import World
from playwright.sync_api import Playwright

HALVES = {"first half": list(FAULTS)[0::2], "second half": list(FAULTS)[1::2]}


@pytest.fixture(scope="module")
def laptop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Laptop]:
    laptop = Laptop(tmp_path_factory.mktemp("faults"))
    yield laptop
    laptop.close()


@pytest.mark.parametrize("half", HALVES)
def test_nothing_confirmed_is_lost_or_doubled(
    half: str, player: Playwright, laptop: Laptop
) -> None:
    names = HALVES[half]
    random.Random(half).shuffle(names)
    world = World(player, laptop)
    try:
        verdict = run(world, seed=7, names=names)
    finally:
        world.close()
    assert (verdict.lost, verdict.doubled, verdict.wrong) == ([], [], [])
    assert verdict.confirmed > len(names)
    assert verdict.fixes > 0


def test_a_missing_browser_is_a_failure(
    player: Playwright, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EBBLINE_CHROMIUM", str(tmp_path / "none"))
    with pytest.raises(RuntimeError, match="Chromium or Chrome browser is needed"):
        Chromium(player, tmp_path / "profile").start()
