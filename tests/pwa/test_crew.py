"""What a phone makes of the records that others of its session are said to have made."""

from __future__ import annotations

from typing import Any

import javascript

HEAR = """({ createOthers }, [own, answers]) => {
  const track = { 1000: 10, 2000: 20 };
  const alongAt = (ms) => track[ms] ?? null;
  const others = createOthers({ session: "s", device: "phone-aaaa", alongAt });
  const news = answers.map((told) => others.take(told).map(({ id }) => id));
  const rows = others.beside(own);
  const again = createOthers({ session: "s", device: "phone-aaaa", alongAt });
  again.take(others.told()); // a page that was loaded again, from what was kept
  return { again: [again.until(), again.beside(own)], news, until: others.until(), rows,
    who: rows.map(others.who) };
}"""


def told(since: str, until: str, *docs: dict[str, Any], **clocks: float) -> dict[str, Any]:
    devices = [
        {"id": f"phone-{name}", "label": None, "clock_offset_ms": offset}
        for name, offset in clocks.items()
    ]
    return {
        "since": since,
        "until": until,
        "devices": devices,
        "events": [one for one in docs if "kind" in one],
        "readings": [one for one in docs if "quantity" in one],
    }


def doc(name: str, t_ms: int, by: str = "phone-bbbb", **more: Any) -> dict[str, Any]:
    what = {} if "quantity" in more else {"kind": "note"}
    return {"id": name, "device": by, "t_ms": t_ms, **what, **more}


def own(name: str, t_ms: int) -> dict[str, Any]:
    record = doc(name, t_ms, by="phone-aaaa")
    return {"id": name, "type": "event", "doc": record, "stored_ms": t_ms, "along_m": 1}


def hear(rows: list[dict[str, Any]], *answers: dict[str, Any]) -> Any:
    return javascript.evaluate("capture/crew/others.js", HEAR, [rows, list(answers)])


def test_others_records_lie_among_ones_own_where_their_moments_are_by_ones_own_clock() -> None:
    found = hear(
        [own("a", 500), own("d", 1500)],
        told("0.0", "2.0", doc("e", 5000), doc("b", 4000, quantity="soc"), aaaa=2000, bbbb=-1000),
    )
    assert [row["id"] for row in found["rows"]] == ["a", "b", "d", "e"]
    by_id = {row["id"]: row for row in found["rows"]}
    assert [by_id[name]["doc"]["t_ms"] for name in "be"] == [1000, 2000]
    assert [by_id[name]["along_m"] for name in "be"] == [10, 20]  # of this phone's own track
    assert (by_id["b"]["type"], by_id["e"]["type"]) == ("reading", "event")
    assert found["who"] == ["", "Phone bbbb", "", "Phone bbbb"]
    assert found["again"] == [found["until"], found["rows"]]


def test_news_are_what_was_not_told_before() -> None:
    first = told("0.0", "1.0", doc("b", 1))
    more = told("1.0", "3.0", doc("d", 9), doc("c", 5))
    anew = told("0.0", "2.0", doc("b", 1), doc("z", 7))  # an older copy of the server was put back
    found = hear([], first, told("1.0", "1.0"), more, anew)
    assert found["news"] == [["b"], [], ["c", "d"], ["z"]]
    assert [row["id"] for row in found["rows"]] == ["b", "z"]
    assert found["until"] == "2.0"


def test_a_clock_that_is_known_later_puts_right_what_was_told_before() -> None:
    found = hear([], told("0.0", "1.0", doc("b", 1000)), told("1.0", "1.0", bbbb=1000))
    assert found["rows"][0]["doc"]["t_ms"] == 2000


def test_who_recorded_it_is_said_by_the_name_it_was_given() -> None:
    named = told("0.0", "2.0", doc("b", 1), doc("c", 2, by="desk"))
    named["devices"] = [{"id": "phone-bbbb", "label": "Back seat", "clock_offset_ms": None}]
    assert hear([], named)["who"] == ["Back seat", "Desk"]
