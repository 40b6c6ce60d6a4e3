"""Many sessions, on one processor or several, with the same outcome."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Callable, Sequence
from functools import partial

from .judging import Outcome, judge
from .setting import Setting


def run(
    settings: Sequence[Setting],
    sessions: int,
    workers: int,
    told: Callable[[int], None] = lambda done: None,
) -> dict[str, list[Outcome]]:
    """Outcomes by setting. Session k of every setting is made by one worker, which lets the
    settings share its drive; its chance comes from k alone.
    """
    outcomes: dict[str, list[Outcome]] = {setting.name: [] for setting in settings}
    one = partial(_one, tuple(settings))

    def take(found: list[Outcome], done: int) -> None:
        for setting, outcome in zip(settings, found, strict=True):
            outcomes[setting.name].append(outcome)
        told(done)

    if workers == 1:
        for number in range(sessions):
            take(one(number), number + 1)
        return outcomes
    with multiprocessing.get_context("spawn").Pool(workers, _end_with_the_study) as pool:
        for done, found in enumerate(pool.imap(one, range(sessions)), start=1):
            take(found, done)
    return outcomes


def _end_with_the_study() -> None:
    """A pool's process would wait for ever for the next session of a study that was killed."""
    study = multiprocessing.parent_process()
    assert study is not None

    def wait() -> None:
        study.join()
        os._exit(1)

    threading.Thread(target=wait, daemon=True).start()


def _one(settings: tuple[Setting, ...], number: int) -> list[Outcome]:
    return [judge(setting, number) for setting in settings]
