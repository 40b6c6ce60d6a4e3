"""The report: what stands in it, and that outsiders can read it."""

import re
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from exchange.test_facts import EVERY as EVERY_FACT
from exchange.test_facts import tick
from justhtml import JustHTML
from PIL import Image
from programs import NO_POPPLER, find_poppler
from report.subjects import EARLY, FULL, LAPS, ROUGH, document_of, sample, subject_of

from ebbline.report.build import build
from ebbline.report.content import Facts, Remarks, Table
from ebbline.report.html import report_html
from ebbline.report.pdf import report_pages, report_pdf
from ebbline.report.setting_out import Paper, SettingOut
from ebbline.vocabulary import FACTS

pytestmark = pytest.mark.slow

HOSTILE = "<script>alert(1)</script> & $x^2$ #text(red)[*no*] \\ \u0000\u202e"


def text_of(pdf: bytes, folder: Path) -> str:
    programs = find_poppler()
    if programs is None:
        pytest.fail(NO_POPPLER)
    (folder / "report.pdf").write_bytes(pdf)
    done = subprocess.run(
        [programs["pdftotext"], "-layout", folder / "report.pdf", "-"],
        check=True,
        capture_output=True,
    )
    return done.stdout.decode()


@pytest.mark.parametrize("name", [FULL, ROUGH, EARLY, LAPS])
def test_the_html_is_sound_and_needs_nothing_else(name: str):
    html = report_html(sample(name)).decode()
    found = JustHTML(
        html, strict=True, sanitize=False
    )  # raises at the first parse error of the HTML standard
    assert found.query("h1")[0].to_text() == sample(name).title
    assert not re.findall(r"""(?:src|href)=["'](?!data:)""", html)
    assert "@import" not in html
    assert "url(" not in html
    assert all(image.attrs["alt"] for image in found.query("img"))


@pytest.mark.parametrize("name", [FULL, EARLY])
def test_the_pdf_opens_elsewhere_and_every_page_has_ink(name: str, tmp_path: Path):
    programs = find_poppler()
    if programs is None:
        pytest.fail(NO_POPPLER)
    pdf = report_pdf(sample(name))
    (tmp_path / "report.pdf").write_bytes(pdf)
    subprocess.run(
        [programs["pdftoppm"], "-r", "30", "-png", tmp_path / "report.pdf", tmp_path / "page"],
        check=True,
    )
    pages = sorted(tmp_path.glob("page*.png"))
    assert 1 < len(pages) < 12
    if name == EARLY:
        assert len(pages) == len(report_pages(sample(name)))
    for page in pages:
        low, high = Image.open(page).convert("L").getextrema()
        assert low < 150 < high


def test_html_and_pdf_say_the_same_figures(tmp_path: Path):
    subject = sample(FULL)
    report = build(subject)
    html = (
        JustHTML(report_html(subject).decode(), strict=True, sanitize=False)
        .query("main")[0]
        .to_text()
    )
    pdf = text_of(report_pdf(subject), tmp_path)
    for line in report.headlines:
        assert line.figure is not None
        for text in (line.figure.value, line.figure.interval):
            assert text in html, line.key
            assert text in pdf, line.key


def test_every_headline_figure_has_an_interval_and_a_source():
    for line in build(sample(FULL)).headlines:
        assert line.figure is not None, line.key
        assert line.figure.interval, line.key
        assert line.source, line.key


def test_the_sources_name_engine_evidence_and_tap_delay():
    subject = sample(FULL)
    report = build(subject)
    sources = next(section for section in report.sections if section.anchor == "sources")
    said = dict(row for block in sources.blocks if isinstance(block, Facts) for row in block.rows)
    assert said["Evidence, SHA-256"] == subject.input_sha256
    assert said["Engine"] == subject.engine
    assert said["A tap is taken to be"].startswith("0.9 s late")


def test_the_ladder_has_a_row_for_every_event_that_counts():
    subject = sample(ROUGH)
    ladder = next(section for section in build(subject).sections if section.anchor == "ladder")
    (table,) = (block for block in ladder.blocks if isinstance(block, Table))
    assert len(table.rows) == len(subject.result.timeline)


def test_miles_are_used_throughout():
    subject = sample(FULL, "mi")
    driven, reserve = build(subject).headlines[0], subject.result.reserve.distance_m
    assert driven.figure is not None
    assert reserve is not None
    assert float(driven.figure.value) == pytest.approx(reserve.value / 1609.344, abs=6e-4)
    html = report_html(subject).decode()
    page = JustHTML(html, strict=True, sanitize=False)
    text = page.query("main")[0].to_text()
    assert f"{driven.figure.value}\u00a0mi" in text
    assert "mph" in text
    # What a display showed stays as it was; findings name the unit they were found in.
    text = text.partition("Where the figures come from")[0]
    text = re.sub(r"trip meter showed [\d.]+\s?km", "trip meter showed", text)
    assert not re.search(r"(?<!capped: )\b\d+\s?km\b", text)


def test_a_shutdown_before_zero_says_so_first():
    report = build(sample(EARLY))
    assert report.summary == (
        "The car shut itself off before its display reached zero; it last showed 2 %."
    )
    assert [line.key for line in report.headlines] == ["total_m"]


def test_departures_and_exclusions_are_told():
    document = document_of(FULL)
    document["protocol"]["start_soc_pct"] = 20
    document["conditions"]["battery_warmed"] = False
    fixes = document["breadcrumbs"][0]
    document["excluded"] = [
        {"device": fixes["device"], "from_ms": fixes["t_ms"][0], "to_ms": fixes["t_ms"][5],
         "reason": "under the roof of the pits"},
    ]  # fmt: skip
    report = build(subject_of(document))
    plan = next(section for section in report.sections if section.anchor == "plan")
    (remarks,) = plan.blocks
    assert isinstance(remarks, Remarks)
    said = " ".join(text for _, _, text in remarks.rows)
    for part in ("start with 20 %", "not warmed", "under the roof of the pits"):
        assert part in said


def test_every_fact_of_car_and_day_stands_in_the_report_in_the_readers_units():
    document = document_of(EARLY)
    document["vehicle"] |= EVERY_FACT["vehicle"]
    document["conditions"] = {**EVERY_FACT["conditions"], "full_charge_before": None}
    document["events"].append(tick("t", "charged_full", True, document["events"][0]["device"],
                                   t_ms=document["events"][0]["t_ms"]))  # fmt: skip
    report = build(subject_of(document, "mi"))
    section = next(one for one in report.sections if one.anchor == "conditions")
    said = dict(row for block in section.blocks if isinstance(block, Facts) for row in block.rows)
    assert {row.name for path, row in FACTS.items() if "road_load" not in path} <= set(said)
    assert said["Usable energy, our measure"] == "56.4 kWh"
    assert said["Our measure, \u00b1 (95 %)"] == "0.98 kWh"  # 1.96 x 0.5
    assert said["Charged fully beforehand"] == "yes", "ticked on the phone"
    assert said["Battery warmed"] == "no"
    assert said["Odometer"] == "1939\u00a0mi"  # 3120 km / 1.609344
    assert said["Tyre pressure"] == "290 kPa"
    assert said["Lent by"] == "a private owner"
    assert said["Road load"].startswith("110 N + 1.2 N/(m/s)")


def test_the_ladder_tells_the_cars_words_and_their_class():
    document = document_of(EARLY)
    warning = next(event for event in document["events"] if event["kind"] == "warning")
    warning |= {"text": "Pull over", "class": "stop_soon"}
    ladder = next(one for one in build(subject_of(document)).sections if one.anchor == "ladder")
    (table,) = (block for block in ladder.blocks if isinstance(block, Table))
    assert "Warning: \u201cPull over\u201d (stop soon)" in [row.cells[1].text for row in table.rows]


def test_what_somebody_typed_stays_text(tmp_path: Path):
    document = document_of(EARLY)
    document["session"]["title"] = HOSTILE
    document["vehicle"]["label"] = HOSTILE
    warning = next(event for event in document["events"] if event["kind"] == "hazards_on")
    warning["text"] = HOSTILE
    subject = subject_of(document)
    html = report_html(subject).decode()
    assert "<script" not in html
    assert "alert(1)" in JustHTML(html, sanitize=False).query("h1")[0].to_text()
    pdf = text_of(report_pdf(subject), tmp_path)
    assert "#text(red)[*no*]" in pdf
    assert "$x^2$" in pdf


def test_the_same_session_gives_the_same_bytes():
    one, other = sample(LAPS), replace(sample(LAPS))  # what the one has drawn the other hasn't
    assert report_html(one) == report_html(other)
    assert report_pdf(one) == report_pdf(other)


def test_times_of_day_are_rounded_as_the_desk_rounds_them_and_say_whose_clock_it_is():
    subject = sample(FULL)
    second_ms = 1_772_444_157_000
    assert subject.clock(second_ms - 500) == subject.clock(second_ms + 499) == "09:35:57"
    report = build(subject)
    assert any(fact.endswith("09:30 UTC") for fact in report.facts)
    blocks = [block for section in report.sections for block in section.blocks]
    (ladder,) = (b for b in blocks if isinstance(b, Table) and b.columns[0].text == "Time")
    assert ladder.columns[0].small == "UTC"
    said = dict(row for block in blocks if isinstance(block, Facts) for row in block.rows)
    assert said["Times of day"] == "UTC, rounded to the second"


def test_a_zone_that_was_stated_is_named():
    document = document_of(EARLY)
    document["session"]["time_zone"] = "Europe/Vienna"
    assert subject_of(document).zone_name == "Europe/Vienna"
    document["session"].update(time_zone=None, started_at="2026-03-02T10:30:00+01:00")
    assert subject_of(document).zone_name == "UTC+01:00"


def test_a_span_runs_from_one_named_event_to_another():
    sources = [line.source for line in build(sample(FULL)).headlines]
    assert any(re.match(r"From “0 % shown” at [\d:]+ to “propulsion off” at", s) for s in sources)


def test_what_was_recharged_below_zero_is_said_to_be_times_the_efficiency():
    report = build(sample(FULL))
    names = {name for section in report.sections for block in section.blocks
             if isinstance(block, Facts) for name, _ in block.rows}  # fmt: skip
    assert "Put back before the display left 0 %, times the charging efficiency" in names


def hidden(minutes: float, *, read: bool) -> dict[str, Any]:
    """The full run with some minutes after zero left out, with or without the trip's distance."""
    document = document_of(FULL)
    zero_ms = sample(FULL).result.zero.t_ms
    assert zero_ms is not None
    from_ms = zero_ms + 60_000
    to_ms = round(from_ms + minutes * 60_000)
    device = document["breadcrumbs"][0]["device"]
    document["excluded"] = [{"device": device, "from_ms": from_ms, "to_ms": to_ms}]
    if not read:
        document["readings"] = [
            reading for reading in document["readings"] if reading["quantity"] != "trip_distance"
        ]
    return document


def test_a_headline_that_hangs_on_a_gap_says_so_beside_the_figure(tmp_path: Path):
    subject = subject_of(hidden(5.0, read=False))
    report = build(subject)
    driven = next(line for line in report.headlines if line.key == "distance_m")
    assert driven.hangs == "Hangs on a gap of 5 min"
    assert "(hangs on a gap of 5 min)" in report.summary
    consumption = next(line for line in report.headlines if line.key == "past_zero_wh_per_km")
    assert consumption.hangs == driven.hangs
    assert "Hangs on a gap of 5 min" in report_html(subject).decode()
    assert "Hangs on a gap of 5 min" in text_of(report_pdf(subject), tmp_path)


def test_a_headline_whose_gap_the_trip_meter_tells_says_nothing():
    for line in build(subject_of(hidden(5.0, read=True))).headlines:
        assert line.hangs == ""


def test_every_reading_stands_in_a_table_with_its_time():
    subject = sample(FULL)
    sources = next(section for section in build(subject).sections if section.anchor == "sources")
    (table,) = (block for block in sources.blocks if isinstance(block, Table))
    shown = [cell for row in table.rows for cell in row.cells[1:] if cell.text]
    assert len(shown) == len(subject.readings)
    assert all(re.fullmatch(r"\d\d:\d\d:\d\d", cell.small) for cell in shown)
    assert all(len(row.cells) == len(table.columns) for row in table.rows)
    assert "shown to 0.1, rounded, typed on the phone" in {row.cells[0].small for row in table.rows}


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("us-letter", (612, 792))])
def test_the_pdf_has_the_size_of_the_paper_asked_for(
    paper: Paper, points: tuple[int, int], tmp_path: Path
):
    """ISO 216 and ANSI/ASME Y14.1 (from memory), by Poppler at 72 to the inch."""
    programs = find_poppler()
    if programs is None:
        pytest.fail(NO_POPPLER)
    subject = replace(sample(EARLY), out=SettingOut(paper=paper))
    (tmp_path / "report.pdf").write_bytes(report_pdf(subject))
    subprocess.run([programs["pdftoppm"], "-r", "72", "-png", "-l", "1", tmp_path / "report.pdf",
                    tmp_path / "page"], check=True)  # fmt: skip
    (page,) = tmp_path.glob("page*.png")
    with Image.open(page) as image:
        assert image.size == pytest.approx(points, abs=1)
