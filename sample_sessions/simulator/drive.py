"""The true drive: position, speed and energy, step by step, and what happened on the way."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from simulator.car import Car
from simulator.course import Course, FloatArray

STEP_S = 0.1

_REACTION_S = 1.2  # time constant of the driver's foot
_ACCELERATE_MPS2 = 1.3
_FLOORED_MPS2 = 2.2
_BRAKE_MPS2 = 1.1
_SIDEWAYS_MPS2 = 2.3  # in corners
_SETTLED_MPS = 0.15
_GRID_M = 0.5
_GRAVITY_MPS2 = 9.81
_RIPPLE_KEPT = math.exp(-STEP_S / 15)  # of the driver's unsteadiness, from step to step


@dataclass(frozen=True, slots=True)
class Floored:
    """Full throttle, once so much energy past zero is drawn, where the next straight begins."""

    energy_past_zero_kwh: float
    straights_at_m: tuple[float, ...]  # places on the lap
    duration_s: float


@dataclass(frozen=True, slots=True)
class Halt:
    """A stop on the way."""

    at_m: float  # from the gate
    lasting_s: float


@dataclass(frozen=True, slots=True)
class Crawl:
    """A stretch driven slowly: behind somebody, or past something."""

    from_m: float  # from the gate
    to_m: float
    speed_mps: float


@dataclass(frozen=True, slots=True)
class Restart:
    """Somebody tries to drive on after propulsion ended and the car stood."""

    after_s: float
    gives_kwh: float  # until propulsion ends again; 0: it refuses


@dataclass(frozen=True, slots=True)
class Slope:
    """One wave of the course's ups and downs: steepest by so much, so many times a lap."""

    steepest: float  # rise per distance
    waves: int
    phase: float  # radians


@dataclass(frozen=True, slots=True)
class Plan:
    """How it was to be driven."""

    start_m: float = -700.0  # from the gate
    parked_before_s: float = 60.0
    parked_after_s: float = 60.0
    cruise_mps: tuple[float, ...] = (23.0, 20.0)  # lap by lap, over again
    cruise_past_zero_mps: float = 21.0
    floored: tuple[Floored, ...] = ()
    halts: tuple[Halt, ...] = ()  # in the order of their places
    crawls: tuple[Crawl, ...] = ()
    restart: Restart | None = None
    stop_at_m: float | None = None  # else it drives until propulsion ends
    contactors_after_s: float | None = 75.0  # after standstill
    wind_mps: float = 2.0
    wind_from_deg: float = 250.0
    slopes: tuple[Slope, ...] = ()  # none: level all round
    unsteadiness_mps: float = 0.4


@dataclass(frozen=True, slots=True)
class Happening:
    """A true event: seconds since the start of the recording."""

    kind: str
    t_s: float
    value: float | None = None
    unit: str | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Plateau:
    """Full throttle: when, and the speed that the car settled at, if it did."""

    on_s: float
    off_s: float
    settled_mps: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """The truth on one time base, shape (n,): ``s_m`` from the gate, energy since the start."""

    t_s: FloatArray
    s_m: FloatArray
    v_mps: FloatArray
    drawn_kwh: FloatArray
    power_available_kw: FloatArray
    happenings: tuple[Happening, ...]
    plateaus: tuple[Plateau, ...]

    def at(self, column: FloatArray, t_s: float | FloatArray) -> FloatArray:
        """A column at other times; before and after the drive it stays as it was."""
        return np.asarray(np.interp(t_s, self.t_s, column))

    def when(self, kind: str) -> float | None:
        """The first time something of a kind happened."""
        return next((h.t_s for h in self.happenings if h.kind == kind), None)

    def moment_of(self, kind: str) -> float:
        """The first time something happened that did happen."""
        t_s = self.when(kind)
        assert t_s is not None, kind
        return t_s

    def last(self, kind: str) -> float | None:
        """The last time something of a kind happened."""
        return next((h.t_s for h in reversed(self.happenings) if h.kind == kind), None)

    def passed_s(self, places_m: FloatArray) -> FloatArray:
        """When the car passed places (k,) on its way."""
        moving = np.concatenate([[True], np.diff(self.s_m) > 0])
        return np.asarray(np.interp(places_m, self.s_m[moving], self.t_s[moving]))


@dataclass(slots=True)
class _State:
    t_s: float = 0.0
    s_m: float = 0.0
    v_mps: float = 0.0
    drawn_kwh: float = 0.0
    power_kw: float = 0.0
    ripple_mps: float = 0.0
    floored_since_s: float | None = None
    settled_since_s: float | None = None
    capped_told: bool = False
    propelled: bool = True
    comfort_cut: bool = False
    warned: int = 0
    shown_pct: int = 0
    next_floored: int = 0
    rows: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    happenings: list[Happening] = field(default_factory=list)
    told: set[str] = field(default_factory=set)  # their kinds
    plateaus: list[Plateau] = field(default_factory=list)


def drive(course: Course, car: Car, plan: Plan, rng: np.random.Generator) -> Drive:
    """Drive the plan until the car stands for good."""
    return _Simulation(course, car, plan, rng).run()


class _Simulation:
    """One drive under way; plain floats, because each step needs the one before it."""

    def __init__(self, course: Course, car: Car, plan: Plan, rng: np.random.Generator) -> None:
        self.course, self.car, self.plan, self.rng = course, car, plan, rng
        grid_m = np.arange(0, course.length_m, _GRID_M)
        self.envelope_mps = _envelope_mps(course, grid_m).tolist()
        wind_from = course.heading_deg(grid_m) - plan.wind_from_deg
        self.headwind_mps = (plan.wind_mps * np.cos(np.radians(wind_from))).tolist()
        turn = 2 * np.pi * grid_m / course.length_m
        rise = np.zeros(grid_m.size)
        for slope in plan.slopes:
            rise += slope.steepest * np.sin(slope.waves * turn + slope.phase)
        self.uphill_n = (car.mass_kg * _GRAVITY_MPS2 * rise).tolist()
        self.halts = list(plan.halts)
        self.zero_at_kwh, self.off_at_kwh = car.zero_at_kwh, car.off_at_kwh
        self.kick_mps = plan.unsteadiness_mps * math.sqrt(1 - _RIPPLE_KEPT**2)
        self.now = _State(s_m=plan.start_m, shown_pct=_shown(car.soc_pct(0.0)))

    def run(self) -> Drive:
        now, plan = self.now, self.plan
        self._stand(plan.parked_before_s)
        self._drive_on()
        if plan.restart is not None:
            self._restart(plan.restart)
        if plan.contactors_after_s is not None and not now.propelled:
            self._stand(plan.contactors_after_s)
            self._tell("contactors_open")
        else:
            self._stand(plan.parked_after_s)
        t_s, s_m, v_mps, drawn_kwh, power_kw = np.array(now.rows).T.copy()  # each in one piece
        return Drive(
            t_s, s_m, v_mps, drawn_kwh, power_kw, tuple(now.happenings), tuple(now.plateaus)
        )

    def _drive_on(self) -> None:
        """Until it has arrived or propulsion ends, and then to rest."""
        now = self.now
        while now.propelled and not self._arrived():
            self._tell_of_energy()
            if self.halts and now.s_m >= self.halts[0].at_m - 0.5:
                self._halt()
            resistance_n = self._resistance_n()
            self._step(self._accelerate(resistance_n), resistance_n)
        while now.v_mps > 0.2:
            resistance_n = self._resistance_n()
            slowing_mps2 = resistance_n / self.car.mass_kg if now.v_mps > 1 else 0.5
            self._step(-slowing_mps2, resistance_n)
        now.v_mps = 0.0
        self._tell("standstill")

    def _restart(self, restart: Restart) -> None:
        self._stand(restart.after_s)
        self._tell("restart", text="succeeded" if restart.gives_kwh else "failed")
        if restart.gives_kwh:
            self.off_at_kwh = self.now.drawn_kwh + restart.gives_kwh
            self.now.propelled = True
            self._drive_on()

    def _stand(self, duration_s: float) -> None:
        for _ in range(round(duration_s / STEP_S)):
            self._step(0.0)

    def _halt(self) -> None:
        self.now.v_mps = 0.0
        self._stand(self.halts.pop(0).lasting_s)

    def _arrived(self) -> bool:
        stop_m = self.plan.stop_at_m
        return stop_m is not None and self.now.s_m >= stop_m - 0.5

    def _grid(self, values: list[float]) -> float:
        return values[int((self.now.s_m % self.course.length_m) / _GRID_M) % len(values)]

    def _resistance_n(self) -> float:
        level_n = self.car.force_n(self.now.v_mps, self._grid(self.headwind_mps))
        return level_n + self._grid(self.uphill_n)

    def _accelerate(self, resistance_n: float) -> float:
        """The driver's wish, within what the car gives, m/s²."""
        now, car = self.now, self.car
        fade = car.fade(now.drawn_kwh - self.zero_at_kwh)
        now.power_kw = fade.power_kw
        self._foot(fade.cap_mps)
        if now.floored_since_s is None:
            wish_mps = min(self._cruise_mps() + now.ripple_mps, self._grid(self.envelope_mps))
            wish_mps, most = min(wish_mps, fade.cap_mps), _ACCELERATE_MPS2
            for held_up_mps in self._held_up_mps():
                wish_mps = min(wish_mps, held_up_mps)
        else:
            wish_mps, most = fade.cap_mps, _FLOORED_MPS2
        wish = min(max((wish_mps - now.v_mps) / _REACTION_S, -_BRAKE_MPS2), most)
        given_n = fade.power_kw * 1000 / max(now.v_mps, 3.0)
        return min(wish, (given_n - resistance_n) / car.mass_kg)

    def _held_up_mps(self) -> Iterator[float]:
        """The fastest it may be and still stand at the next halt, and crawl where it must."""
        s_m = self.now.s_m
        ends_m = [] if self.plan.stop_at_m is None else [self.plan.stop_at_m]
        for stop_m in ends_m + [halt.at_m for halt in self.halts[:1]]:
            yield math.sqrt(2 * 0.8 * max(stop_m - s_m, 0.0)) + 0.3
        for crawl in self.plan.crawls:
            if s_m < crawl.to_m:
                yield math.sqrt(crawl.speed_mps**2 + 2 * 0.8 * max(crawl.from_m - s_m, 0.0))

    def _cruise_mps(self) -> float:
        if self.now.drawn_kwh >= self.zero_at_kwh:
            return self.plan.cruise_past_zero_mps
        lap = math.floor(self.now.s_m / self.course.length_m)
        return self.plan.cruise_mps[lap % len(self.plan.cruise_mps)]

    def _foot(self, cap_mps: float) -> None:
        """Press and lift where the plan says; a corner ahead lifts sooner."""
        now, plan = self.now, self.plan
        past_zero_kwh = now.drawn_kwh - self.zero_at_kwh
        if now.floored_since_s is None:
            if now.next_floored == len(plan.floored):
                return
            wanted = plan.floored[now.next_floored]
            lap_m = self.course.length_m
            beyond_m = min((now.s_m - at_m) % lap_m for at_m in wanted.straights_at_m)
            if past_zero_kwh >= wanted.energy_past_zero_kwh and beyond_m < 30:
                now.floored_since_s, now.settled_since_s, now.capped_told = now.t_s, None, False
                self._tell("floored_on")
            return
        if now.settled_since_s is None and abs(now.v_mps - cap_mps) < _SETTLED_MPS:
            now.settled_since_s = now.t_s
        if now.settled_since_s is not None and not now.capped_told:
            now.capped_told = True
            shown_kmh = round(now.v_mps * 3.6 * self.car.speedometer_ratio)
            self._tell("speed_capped", float(shown_kmh), "km/h")
        wanted = plan.floored[now.next_floored]
        too_fast = now.v_mps > self._grid(self.envelope_mps) + 0.3
        if too_fast or now.t_s - now.floored_since_s >= wanted.duration_s:
            self._lift(cap_mps)

    def _lift(self, cap_mps: float) -> None:
        now = self.now
        assert now.floored_since_s is not None
        settled = abs(now.v_mps - cap_mps) < _SETTLED_MPS
        now.plateaus.append(Plateau(now.floored_since_s, now.t_s, cap_mps if settled else None))
        now.floored_since_s = None
        now.next_floored += 1
        self._tell("floored_off")

    def _tell(
        self,
        kind: str,
        value: float | None = None,
        unit: str | None = None,
        text: str | None = None,
    ) -> None:
        self.now.happenings.append(Happening(kind, self.now.t_s, value, unit, text))
        self.now.told.add(kind)

    def _tell_of_energy(self) -> None:
        """What the car shows or does once so much is drawn."""
        now, car = self.now, self.car
        past_zero_kwh = now.drawn_kwh - self.zero_at_kwh
        shown = _shown(car.soc_pct(now.drawn_kwh))
        if shown < now.shown_pct:
            now.shown_pct = shown
            self._tell("zero_soc" if shown == 0 else "soc_step", float(shown), "%")
        if past_zero_kwh >= car.zero_range_after_kwh and "zero_range" not in now.told:
            self._tell("zero_range")
        if past_zero_kwh >= car.comfort_cut_after_kwh and not now.comfort_cut:
            now.comfort_cut = True
            self._tell("comfort_cut")
        while now.warned < len(car.warnings) and past_zero_kwh >= car.warnings[now.warned][0]:
            self._tell("warning", text=car.warnings[now.warned][1])
            now.warned += 1
        fade = car.fade(past_zero_kwh)
        if fade.energy_past_zero_kwh > -math.inf and "power_limited" not in now.told:
            self._tell("power_limited")
        if now.drawn_kwh >= self.off_at_kwh:
            now.propelled = False
            now.power_kw = 0.0
            if now.floored_since_s is not None:
                self._lift(fade.cap_mps)
            self._tell("propulsion_off")

    def _step(self, a_mps2: float, resistance_n: float = 0.0) -> None:
        """One step at an acceleration, against so much where it is driven."""
        now, car = self.now, self.car
        now.rows.append((now.t_s, now.s_m, now.v_mps, now.drawn_kwh, now.power_kw))
        auxiliary_kw = car.auxiliary_reduced_kw if now.comfort_cut else car.auxiliary_kw
        wheel_kw = 0.0
        if now.propelled and (now.v_mps > 0 or a_mps2 > 0):
            force_n = resistance_n + car.mass_kg * a_mps2
            wheel_kw = force_n * (now.v_mps + a_mps2 * STEP_S / 2) / 1000
        now.drawn_kwh += car.pack_kw(wheel_kw, auxiliary_kw) * STEP_S / 3600
        later_mps = max(now.v_mps + a_mps2 * STEP_S, 0.0)
        now.s_m += (now.v_mps + later_mps) / 2 * STEP_S
        now.v_mps = later_mps
        now.t_s = round(now.t_s + STEP_S, 6)
        kick_mps = self.kick_mps * float(self.rng.standard_normal())
        now.ripple_mps = _RIPPLE_KEPT * now.ripple_mps + kick_mps


def _shown(soc_pct: float) -> int:
    """What the display makes of it: rounded half up, never below 0."""
    return max(math.floor(soc_pct + 0.5), 0)


def _envelope_mps(course: Course, grid_m: FloatArray) -> FloatArray:
    """The fastest one may be at each place of the lap and still take the corners ahead."""
    fastest = np.sqrt(_SIDEWAYS_MPS2 / np.maximum(course.curvature_per_m(grid_m), 1e-4))
    envelope = np.concatenate([fastest, fastest])
    for i in range(envelope.size - 2, -1, -1):
        slowed = math.sqrt(envelope[i + 1] ** 2 + 2 * 0.8 * _BRAKE_MPS2 * _GRID_M)
        envelope[i] = min(envelope[i], slowed)
    return np.asarray(envelope[: grid_m.size])
