"""A campaign on paper says what its comparison document says, in its reader's units."""

from __future__ import annotations

from typing import Any

import orjson
from exchange.documents import ID, a_run

from ebbline.campaigns.report import Told, build
from ebbline.compare.comparison import compare
from ebbline.exchange import comparison_document, result_document
from ebbline.exchange.drives import drive_of
from ebbline.records.campaign import Definition
from ebbline.records.comparison import LeftOut
from ebbline.records.result import Quantity
from ebbline.report.content import Facts, Table
from ebbline.report.figures import Units
from ebbline.report.setting import CAUTIONS
from ebbline.sessions.results.analysis import analyze_document

AGAIN, OTHER, OUT = (f"{n}b7a116f-6d3e-4b53-9d6a-0c8f4f1f1d36" for n in range(3))


def compared() -> dict[str, Any]:
    runs = [a_run(ID, "Car A"), a_run(AGAIN, "Car A"), a_run(OTHER, "Car B", 77)]
    drives = []
    for run in runs:
        result = result_document.dump(analyze_document(run).result, "0" * 64)
        drives.append(drive_of(run, orjson.loads(result)))
    found = compare(drives, None, None, [LeftOut(OUT, "it was wet")])
    return comparison_document.to_document(found)


def test_each_session_and_why_one_is_left_out_stand_in_it() -> None:
    comparison = compared()
    names = {ID: "Car A (1)", AGAIN: "Car A (2)", OTHER: "Car B", OUT: "Car C"}
    miles = Units("mi")
    told = Told(Definition("Winter", tested_by="Track crew A"), comparison, names, miles)
    report = build(told)
    assert (report.title, report.summary) == ("Winter", comparison["reserve_model"]["statement"])
    assert "3 sessions compared, 1 left out" in report.facts
    assert "tested by Track crew A" in report.facts
    assert report.caution == CAUTIONS[0]
    by_anchor = {section.anchor: section for section in report.sections}
    (cars,) = by_anchor["cars"].blocks
    assert isinstance(cars, Table)
    assert [row.cells[0].text for row in cars.rows] == [
        "1  Car A (1)", "1b  Car A (2)", "2  Car B",
    ]  # fmt: skip
    far = miles.figure("distance", Quantity(**comparison["sessions"][0]["reserve_m"]))
    assert far is not None
    shown = cars.rows[0].cells[3]
    assert (shown.text, shown.small) == (f"{far.value}\u00a0mi", far.interval)
    (out,) = by_anchor["left-out"].blocks
    assert isinstance(out, Facts)
    assert out.rows == (("Car C", "it was wet"),)
    assert "repeats" in by_anchor


def test_what_compares_nothing_has_no_table_of_cars() -> None:
    nothing = comparison_document.to_document(compare([], None, None, []))
    report = build(Told(Definition("Empty"), nothing, {}, Units("km")))
    assert [section.anchor for section in report.sections] == ["cautions"]
