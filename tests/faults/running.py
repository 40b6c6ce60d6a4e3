"""Runs made from numbers, each with one fault for certain and perhaps a second one."""

from __future__ import annotations

import random
import tempfile
import time
import traceback
from collections.abc import Iterator, Sequence
from pathlib import Path

from playwright.sync_api import sync_playwright

from .faults import FAULTS
from .laptop import Laptop
from .verdict import Verdict
from .world import World

SECOND_FAULT = 0.4  # share of runs in which something else happens too
RUNS_PER_SERVER = 20
RUNS_PER_PHONE = 10


def run_all(indices: range, seed: int, names: list[str]) -> Iterator[tuple[str, int, Verdict]]:
    """Run after run: the fault's name, the run's own seed and what it showed."""
    with sync_playwright() as player:
        laptop: Laptop | None = None
        world: World | None = None
        try:
            for index in indices:
                if index % RUNS_PER_PHONE == 0 and world:
                    world.close()
                    world = None
                if laptop and index % RUNS_PER_SERVER == 0:
                    if world:
                        world.close()
                        world = None
                    laptop.close()
                    laptop = None
                laptop = laptop or Laptop(Path(tempfile.mkdtemp(prefix="ebbline-laptop-")))
                own_seed = seed * 100_000 + index
                name = names[index % len(names)]
                faults = _with_second(name, own_seed)
                world = world or World(player, laptop)
                verdict = run(world, own_seed, faults)
                if not verdict.is_good() or "storage full" in faults:
                    world.close()  # a browser once full would need half a minute to notice room
                    world = None
                yield name, own_seed, verdict
        finally:
            if world:
                world.close()
            if laptop:
                laptop.close()


def run(world: World, seed: int, names: Sequence[str]) -> Verdict:
    """One session with these faults, one after the other, and taps between them."""
    began_s = time.monotonic()
    verdict = Verdict()
    try:
        world.begin(seed)
        for name in names:
            FAULTS[name](world)
            world.me.act()
        world.finish(verdict)
    except Exception:  # a run that breaks is a result too, and the others go on
        verdict.wrong.append(traceback.format_exc(limit=-3))
    verdict.seconds = time.monotonic() - began_s
    return verdict


def _with_second(name: str, seed: int) -> list[str]:
    """Often something else happens too, before or after."""
    chance = random.Random(f"second fault of {seed}")
    names = [name]
    if chance.random() < SECOND_FAULT:
        names.insert(chance.randint(0, 1), chance.choice(list(FAULTS)))
    return names
