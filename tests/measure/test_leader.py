"""Whose track leads, whose fixes fill its gaps, and which is not of the drive at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from measure.drive import Drive, fixes, hidden, on_a_straight, session
from measure.moments import noted, taps

from ebbline.measure.time.devices import clocks_of, merged
from ebbline.measure.time.moments import Events
from ebbline.measure.track.drive_match import told_of_drive
from ebbline.measure.track.fixes import Fixes
from ebbline.measure.track.leader import track_of
from ebbline.records.setup import Device

CRUISE = on_a_straight(np.concatenate([np.linspace(0, 16, 13), np.full(400, 16.0)]))
SEEN = fixes(CRUISE, seed=1)
NO_TAPS = Events()


def led(*devices: Fixes, events: Events = NO_TAPS):
    """The track of several devices' fixes, and what is said of them by code."""
    one, *others = (session(seen) for seen in devices)
    whole = replace(
        one,
        devices=tuple(Device(seen.device) for seen in devices),
        breadcrumbs=one.breadcrumbs
        + tuple(crumbs for each in others for crumbs in each.breadcrumbs),
    )
    crumbs = merged(whole.breadcrumbs)
    clocks, _ = clocks_of(whole, crumbs)
    told = told_of_drive(events, [noted("trip_energy", 50, 0.1, "kWh")])
    (track, _), findings = track_of(whole, crumbs, clocks, told)
    return track, {said.code: said.message for said in findings}


def short(drive: Drive, from_s: float, to_s: float) -> Drive:
    kept = (drive.t_s >= from_s) & (drive.t_s < to_s)
    return Drive(*(getattr(drive, name)[kept] for name in Drive.__slots__))


def test_shown_speeds_lead_before_longer_cover_and_longer_cover_among_equals():
    half = replace(fixes(short(CRUISE, 0, 200), seed=4), device="half")
    blind = replace(fixes(CRUISE, seed=5, doppler_mps=None), device="blind")
    assert led(blind, half)[0].uses_doppler
    track, said = led(half, replace(SEEN, device="whole"))
    assert track.t_s.size == SEEN.t_s.size
    assert said["track_chosen"] == "The track of whole is used; not used: half."


def test_another_phone_fills_the_gap_but_for_half_a_second_at_its_ends():
    """A gap from 100 to 110 s leaves the other's fixes of 101 to 109 s."""
    other = replace(fixes(short(CRUISE, 95, 150), seed=6), device="other")
    track, said = led(hidden(SEEN, 100, 110), other)
    assert said["track_chosen"] == "The track of phone is used; 9 positions of other fill its gaps."
    assert not track.gap.any()


def test_a_track_of_another_hour_is_not_used_and_the_offset_is_offered():
    drive = taps(("zero_soc", 60.0), ("floored_on", 90.0), ("lap_mark", 150.0), ("warning", 200.0))
    track, said = led(replace(SEEN, t_s=SEEN.t_s - 3600), events=drive)
    assert track is None
    assert "state an offset of +3600 s for phone" in said["track_misses_drive"]


def test_one_fix_makes_no_track():
    track, _ = led(Fixes("phone", *(getattr(SEEN, name)[:1] for name in Fixes.__slots__[1:])))
    assert track is None
