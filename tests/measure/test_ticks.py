"""Moments at a regular distance, where something was seen."""

import numpy as np

from ebbline.measure.numerics.ticks import ticks


def test_a_tick_stands_for_each_span_in_which_something_was_seen():
    seen_s = np.array([100.0, 101.0, 109.9, 110.0, 135.0, 3.2e9])
    assert ticks(seen_s, 100.0, 10.0).tolist() == [100.0, 110.0, 130.0, 3.2e9]


def test_without_a_hole_they_are_a_regular_grid():
    assert ticks(np.arange(100.0, 130.0), 100.0, 10.0).tolist() == [100.0, 110.0, 120.0]


def test_nothing_seen_gives_none():
    assert ticks(np.empty(0), 0.0, 10.0).size == 0
