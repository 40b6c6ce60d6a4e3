"""The study of campaigns counts what it says; its figures stand in DEVELOPERS.md."""

from __future__ import annotations

import pytest
from campaign_study import COLUMNS, Truth, judged, report


@pytest.mark.slow
def test_thirty_campaigns_of_thirty_cars_find_their_truth() -> None:
    truth = Truth("mixed", 0.3)
    tally = judged(truth, 30, 30)
    assert sum(tally.verdicts.values()) == tally.campaigns == 30
    assert tally.verdicts["mixed"] >= 24
    assert tally.verdicts["fixed"] + tally.verdicts["proportional"] <= 2
    assert all(tally.covered[key] >= 24 for key in COLUMNS)


def test_the_report_has_a_row_for_each_setting() -> None:
    truth = Truth("fixed", 0.8)
    rows = report({(truth, 5): judged(truth, 5, 2)}).splitlines()
    assert len([row for row in rows if row.startswith("| fixed | 0.8 kWh | 5 |")]) == 2
