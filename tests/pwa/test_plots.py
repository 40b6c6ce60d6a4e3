"""What a plot saves, and where it puts its tags: asked of the desk's own modules."""

from __future__ import annotations

import javascript

SAVED = """({ three, fileName, csv }, [told, names]) => ({
  figures: told.map(three), name: fileName(...names), csv: csv([["a", 0.1 + 0.2, null, "=1"]]) })"""
PLACED = """({ apart }, [tags, curves]) => apart(tags, curves).map(({ at }) => at)"""


def test_a_saved_figure_has_two_digits_of_its_doubt_and_its_file_the_campaigns_name() -> None:
    """Two digits of an uncertainty suffice: JCGM 100:2008, 7.2.6."""
    told = [
        {"value": 1.1336982391373052, "low": 1.1041505293124538, "high": 1.1632459489621565},
        {"value": 12255.983063446867, "low": 12227.906792822803, "high": 12284.059334070931},
        {"value": None, "low": -1.81425, "high": -0.59525},
        {"value": None, "low": None, "high": 0.25},
        None,
    ]
    saved = javascript.evaluate(
        "desk/page/files.js", SAVED, [told, ["Winter cars: 2026/27", "ladders"]]
    )
    assert saved["figures"] == [
        [1.134, 1.104, 1.163],
        [12256, 12228, 12284],
        [None, -1.81, -0.6],
        [None, None, 0.25],
        [None, None, None],
    ]
    assert saved["name"] == "winter-cars-2026-27-ladders"
    assert saved["csv"] == "a,0.3,,'=1\r\n"


def test_a_tag_lies_beside_the_lines_and_not_on_another_tag() -> None:
    level = [[0, 100], [300, 100]]
    tags = [{"last": 150, "at": 104}, {"last": 155, "at": 104}]
    first, second = javascript.evaluate("desk/plots/marks.js", PLACED, [tags, [level]])
    assert abs(first - second) >= 11
    for foot in (first, second):
        assert not foot - 9 < 100 < foot + 1
    alone = javascript.evaluate("desk/plots/marks.js", PLACED, [tags[:1], [[[0, 100], [140, 100]]]])
    assert alone == [104]
