"""Every kind of event, in the order of the session file and its additions."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from ebbline.vocabulary.kinds import DOERS, Ask, Choices, EventKind, Key, Value

_TOLD = Choices({"heard": "told from the sound", "shown": "told from the display"}, "Told how")

EVENTS: Mapping[str, EventKind] = MappingProxyType(
    {
        "soc_step": EventKind(
            "New % shown",
            "display",
            Key(
                "New %",
                "shown",
                "plain",
                "M3 6h6v6h6v6h6",
                {"before": 1, "charging": 2},
                ask=Ask("Which % does it show?", steps=(1, 5), most=100),
            ),
            short="",
            value=Value(("%",), low=0, high=100),
        ),
        "zero_soc": EventKind(
            "0 % shown",
            "display",
            Key(
                "0 %",
                "shown",
                "zero",
                "M2 8h17v8H2zM22 11v2",
                {"before": 3},
                once=True,
                enters="past",
            ),
            short="0 %",
            emphasis="strong",
            rung=True,
            landmark=1,
        ),
        "zero_range": EventKind(
            "Range showed 0",
            "display",
            Key(
                "Range 0",
                "shown",
                "zero",
                "M4 20 9 4M20 20 15 4M12 5v2M12 11v2M12 17v3",
                {"before": 4, "past": 2},
                once=True,
                enters="past",
            ),
            short="range 0",
            emphasis="strong",
            rung=True,
            landmark=4,
        ),
        "trip_reset": EventKind(
            "Trip reset",
            "display",
            Key(
                "Trip reset",
                "meter to zero",
                "plain",
                "M19 12a7 7 0 1 1-2.2-5.1M17.5 3v4h-4",
                {"before": 5, "past": 1},
            ),
            emphasis="strong",
        ),
        "warning": EventKind(
            "Warning",
            "warning",
            Key(
                "Warning",
                "shown or heard",
                "warn",
                "M12 4 21.5 20h-19zM12 10v5M12 17.4v.2",
                {"before": 2, "past": 3, "fading": 3, "charging": 5},
                ask=Ask("What did it say?"),
            ),
            choices=Choices(
                {
                    "range_low": "range low",
                    "charge_soon": "charge soon",
                    "charge_now": "charge now",
                    "power_reduced": "power reduced",
                    "stop_soon": "stop soon",
                    "stop_now": "stop now",
                    "shutting_down": "shutting down",
                    "unable_to_restart": "unable to restart",
                    "other": "another message",
                },
                "Which class",
                key="class",
            ),
            rung=True,
        ),
        "floored_on": EventKind(
            "Throttle floored",
            "limits",
            Key(
                "Floored",
                "full throttle",
                "limit",
                "M3 20h18M8 20l7-15 4 2-6 13",
                {"before": 6, "past": 4, "fading": 2},
                switch="floored",
            ),
            short="floored",
            explained="full throttle",
        ),
        "floored_off": EventKind(
            "Throttle released",
            "limits",
            Key(
                "Foot off",
                "throttle released",
                "limit",
                "M3 20h18M8 20l7-15 4 2-6 13",
                {"before": 6, "past": 4, "fading": 2},
                switch="floored",
            ),
            short="released",
        ),
        "speed_capped": EventKind(
            "Top speed capped",
            "limits",
            Key(
                "Top speed",
                "capped",
                "limit",
                "M4 18a8 8 0 1 1 16 0M12 18l4.5-5.5M18 5l3 3",
                {"fading": 1},
                ask=Ask("No faster than…", steps=(5, 1), most=400),
                enters="fading",
            ),
            short="capped",
            value=Value(("km/h", "mph"), low=0),
            emphasis="strong",
            rung=True,
        ),
        "power_limited": EventKind(
            "Power limited",
            "limits",
            Key(
                "Power limited",
                "held back",
                "limit",
                "M4 4h16M12 8v12M7 15l5 5 5-5",
                {"past": 5, "fading": 4},
                enters="fading",
            ),
            rung=True,
            landmark=3,
        ),
        "assist_change": EventKind(
            "Assistance changed",
            "limits",
            Key(
                "Assistance",
                "changed",
                "plain",
                "M3 8h10M19 8h2M3 16h2M11 16h10M18 8a2 2 0 1 1-4 0 2 2 0 0 1 4 0z"
                "M10 16a2 2 0 1 1-4 0 2 2 0 0 1 4 0z",
                ask=Ask("What did the assistance do?"),
            ),
            choices=Choices(
                {
                    "disengaged": "switched off",
                    "demanded": "told the driver to take over",
                    "took_over": "took over",
                    "stopped_in_lane": "stopped in lane",
                    "engaged": "switched on",
                },
                "What it did",
                either=("disengaged",),
            ),
            rung=True,
        ),
        "comfort_cut": EventKind(
            "Comfort reduced",
            "limits",
            Key(
                "Comfort reduced",
                "climate, lights",
                "limit",
                "M10 5a2 2 0 0 1 4 0v9a4 4 0 1 1-4 0zM12 9v8",
                ask=Ask("What was cut, and by whom?"),
            ),
            explained="climate, lights or screen",
            choices=Choices(
                {"climate": "climate off", "lights": "lights dimmed", "screen": "screen dimmed"},
                "What was cut",
                either=("climate",),
            ),
            rung=True,
        ),
        "hazards_on": EventKind(
            "Hazard lights on",
            "end",
            Key(
                "Hazard lights",
                "on",
                "warn",
                "M12 3.5 22 20.5H2zM12 11l3.2 5.5H8.8z",
                {"fading": 5, "off": 2},
                ask=Ask("Who switched them on?"),
            ),
            choices=Choices(dict(DOERS), "By whom", key="done_by"),
            rung=True,
        ),
        "propulsion_off": EventKind(
            "Propulsion off",
            "end",
            Key(
                "Propulsion off",
                "no longer drives",
                "off",
                "M12 3v8M7.2 6.2a8 8 0 1 0 9.6 0",
                {"past": 6, "fading": 6},
                once=True,
                enters="off",
            ),
            explained="the car no longer drives",
            emphasis="alarm",
            rung=True,
            landmark=2,
            alert=True,
        ),
        "restart": EventKind(
            "Restart tried",
            "end",
            Key(
                "Restart",
                "tried",
                "off",
                "M8 5l11 7-11 7z",
                {"off": 4},
                ask=Ask("Did it drive again?"),
            ),
            choices=Choices(
                {"succeeded": "drives again", "failed": "without success"}, "How it went"
            ),
            rung=True,
        ),
        "standstill": EventKind(
            "Standstill",
            "end",
            Key("Standstill", "wheels stopped", "off", "M6 6h12v12H6z", {"off": 1}),
            emphasis="alarm",
        ),
        "contactors_open": EventKind(
            "Contactors open",
            "end",
            Key(
                "Contactors open",
                "battery disconnected",
                "off",
                "M2 14h5l9-7M17 14h5",
                {"off": 3},
                once=True,
                enters="off",
            ),
            explained="battery disconnected",
            choices=_TOLD,
            emphasis="alarm",
            rung=True,
            landmark=5,
            alert=True,
        ),
        "contactors_closed": EventKind(
            "Contactors closed",
            "end",
            Key(
                "Contactors closed",
                "battery connected",
                "charge",
                "M2 12h20M7 8v8M17 8v8",
                {"off": 5, "charging": 3},
            ),
            explained="battery connected",
            choices=_TOLD,
        ),
        "plug_in": EventKind(
            "Plugged in",
            "charge",
            Key(
                "Plugged in",
                "cable in the car",
                "charge",
                "M9 3v5M15 3v5M6 8h12v4a6 6 0 0 1-12 0zM12 18v3",
                {"off": 6},
                once=True,
                enters="charging",
            ),
            emphasis="strong",
            landmark=6,
        ),
        "charge_start": EventKind(
            "Charging starts",
            "charge",
            Key(
                "Charging starts",
                "energy flows",
                "charge",
                "M13 3 6 13.5h5.5L10.5 21 18 10.5h-5.5z",
                {"charging": 1},
                enters="charging",
            ),
        ),
        "charge_end": EventKind(
            "Charging ends",
            "charge",
            Key(
                "Charging ends",
                "flow stopped",
                "charge",
                "M10 3 4 13h5l-1 8M16 8v8M20 8v8",
                {"charging": 4},
                enters="charging",
            ),
            landmark=7,
        ),
        "lap_mark": EventKind(
            "Start line crossed",
            "other",
            Key("Start line", "crossed", "plain", "M6 21V4h12l-3 4 3 4H6"),
            short="start line",
        ),
        "film_sync": EventKind(
            "Film sync",
            "other",
            Key(
                "Film sync",
                "clap or flash",
                "plain",
                "M4 11h16v9H4zM4 11l15-6M9 9l2 2M14 7l2 2",
            ),
            value=Value(("s",)),
        ),
        "note": EventKind(
            "Note",
            "other",
            Key("Note", "write it later", "plain", "M4 20l1-5L16 4l4 4L9 19z", {"charging": 6}),
            short="",
        ),
    }
)
# The turns of a drive, the most telling first.
LANDMARKS: tuple[str, ...] = tuple(
    sorted(
        (kind for kind, known in EVENTS.items() if known.landmark is not None),
        key=lambda kind: EVENTS[kind].landmark or 0,
    )
)

# Taps that tell of a drive: what happens to a car that is driven, or was until then.
DRIVING_KINDS = frozenset(
    kind for kind, row in EVENTS.items() if row.group in ("warning", "display", "limits", "end")
) | {"lap_mark"}
