"""The standard running track as a closed course, and a car going round it with a recorder.

Measures of lane 1: straights of 84.39 m, kerb radius 36.50 m, measured 0.30 m out from the kerb
(World Athletics, Track and Field Facilities Manual; read-2nd).
"""

from dataclasses import dataclass

import numpy as np

from ebbline.measure.geodesy import LocalPlane
from ebbline.records.evidence import Breadcrumbs, Session
from ebbline.records.setup import Course, Device, Gate

STRAIGHT_M = 84.39
RADIUS_M = 36.50 + 0.30
BEND_M = np.pi * RADIUS_M
LAP_M = 2 * STRAIGHT_M + 2 * BEND_M
PLACE = LocalPlane(48.0, 11.0)  # a coordinate, no place in particular
START_MS = 1772460000000
RADIUS_95 = 2.447747  # of a circular normal, in sigmas


@dataclass(frozen=True)
class Recorder:
    """A receiver: fixes a second, white and drifting error per axis, error of Doppler speed."""

    rate_hz: float = 1.0
    white_m: float = 0.0
    drift_m: float = 0.0
    drift_s: float = 60.0
    doppler_mps: float | None = 0.0  # None: it reports no speeds


def point_on_oval(along_m):
    """East, north and heading (rad, clockwise from north) so far past the finish.

    The finish ends the home straight, which runs east; from there the first bend turns left.
    """
    along_m = np.mod(np.asarray(along_m, dtype=float), LAP_M)
    back_m = np.where(along_m < LAP_M / 2, along_m, along_m - LAP_M / 2)
    turned = np.minimum(back_m, BEND_M) / RADIUS_M
    straight_m = np.maximum(back_m - BEND_M, 0.0)
    east = STRAIGHT_M / 2 + RADIUS_M * np.sin(turned) - straight_m
    north = -RADIUS_M * np.cos(turned)
    side = np.where(along_m < LAP_M / 2, 1.0, -1.0)
    heading = np.pi / 2 - turned + np.where(side > 0, 0.0, np.pi)
    return side * east, side * north, np.mod(heading, 2 * np.pi)


def on_earth(east, north):
    return PLACE.inverse(np.asarray(east, dtype=float), np.asarray(north, dtype=float))


def finish():
    lat, lon = on_earth([STRAIGHT_M / 2], [-RADIUS_M])
    return Gate(lat=float(lat[0]), lon=float(lon[0]), heading_deg=90.0, half_width_m=15.0)


def drive(speed_mps, laps, recorder, seed=0):
    """A session of steady laps from the back straight, and the distance truly driven."""
    t_s = np.arange(0.0, (laps + 0.5) * LAP_M / speed_mps, 1 / recorder.rate_hz)
    along_m = 0.75 * LAP_M + speed_mps * t_s
    return record(t_s, along_m, speed_mps, recorder, seed), float(along_m[-1] - along_m[0])


def record(t_s, along_m, speed_mps, recorder, seed=0):
    rng = np.random.default_rng(seed)
    n = t_s.size
    east, north, heading = point_on_oval(along_m)
    velocity = speed_mps * np.column_stack([np.sin(heading), np.cos(heading)])
    error_m = recorder.white_m * rng.normal(size=(n, 2)) + drift(t_s, recorder, rng)
    lat, lon = on_earth(east + error_m[:, 0], north + error_m[:, 1])
    unknown = np.full(n, np.nan)
    shown_mps, shown_deg = unknown, unknown
    if recorder.doppler_mps is not None:
        velocity = velocity + recorder.doppler_mps * rng.normal(size=(n, 2))
        shown_mps = np.hypot(*velocity.T)
        shown_deg = np.mod(np.degrees(np.arctan2(velocity[:, 0], velocity[:, 1])), 360)
    sigma_m = max(float(np.hypot(recorder.white_m, recorder.drift_m)), 0.2)
    breadcrumbs = Breadcrumbs(
        device="recorder",
        seq=np.arange(n),
        t_ms=np.round(START_MS + 1000 * t_s).astype(np.int64),
        lat=lat,
        lon=lon,
        accuracy_m=np.full(n, RADIUS_95 * sigma_m),
        speed_mps=shown_mps,
        heading_deg=shown_deg,
        altitude_m=unknown,
        page=np.full(unknown.size, ""),
        mono_ms=np.full(unknown.size, np.nan),
    )
    course = Course(surveyed_lap_m=LAP_M, surveyed_lap_sd_m=0.01, closed=True, gate=finish())
    return Session(
        id="oval", course=course, devices=(Device("recorder"),), breadcrumbs=(breadcrumbs,)
    )


def drift(t_s, recorder, rng):
    """First-order Gauss-Markov error (n, 2), stationary from the start."""
    error_m = recorder.drift_m * rng.normal(size=(t_s.size, 2))
    for k, step_s in enumerate(np.diff(t_s), start=1):
        kept = np.exp(-step_s / recorder.drift_s)
        error_m[k] = kept * error_m[k - 1] + np.sqrt(1 - kept**2) * error_m[k]
    return error_m
