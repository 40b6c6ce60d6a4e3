"""When two pieces of JSON mean the same."""

from __future__ import annotations


def same(one: object, other: object) -> bool:
    """Whether two JSON values say the same: order of keys and 1 against 1.0 don't matter, true
    against 1 does (Python's ``==`` would not see it).
    """
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    return one == other
