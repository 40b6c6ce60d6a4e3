"""Runs made from numbers, each with one fault for certain and perhaps a second one."""

from __future__ import annotations

import random
import tempfile
import time
import traceback
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import sync_playwright

from .faults import FAULTS
from .laptop import Laptop
from .verdict import Verdict
from .world import World

SECOND_FAULT = 0.4  # share of runs in which something else happens too
RUNS_PER_SERVER = 20


def run_all(runs: int, seed: int, names: list[str]) -> Iterator[tuple[str, int, Verdict]]:
    """Run after run: the fault's name, the run's own seed and what it showed."""
    with sync_playwright() as player:
        laptop: Laptop | None = None
        try:
            for index in range(runs):
                if index % RUNS_PER_SERVER == 0:
                    if laptop:
                        laptop.close()
                    laptop = Laptop(Path(tempfile.mkdtemp(prefix="ebbline-laptop-")))
                assert laptop
                name = names[index % len(names)]
                own_seed = seed * 100_000 + index
                began_s = time.monotonic()
                world = World(player, laptop, own_seed)
                verdict = Verdict()
                try:
                    _run(world, name, verdict)
                except Exception:  # a run that breaks is a result too, and the others go on
                    verdict.wrong.append(traceback.format_exc(limit=-3))
                finally:
                    world.close()
                verdict.seconds = time.monotonic() - began_s
                yield name, own_seed, verdict
        finally:
            if laptop:
                laptop.close()


def _run(world: World, name: str, verdict: Verdict) -> None:
    world.begin()
    second = random.Random(world.chance.random())
    faults = [FAULTS[name]]
    if second.random() < SECOND_FAULT:
        faults.insert(second.randint(0, 1), FAULTS[second.choice(list(FAULTS))])
    for fault in faults:
        fault(world)
        world.me.act()
    world.finish(verdict)
