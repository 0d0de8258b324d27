"""The walk: the track and the weather on one day, as entered. Missing stays missing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from setupadvisor.entries import words
from setupadvisor.entries.quantity import Contradiction, Entry, Quantity, Word
from setupadvisor.entries.texts import Day, Name, Note, Text

# Shares are rounded when they are read off, each by half a percent at most.
ROUNDING_OF_SHARES_PCT = 1.0
# Ground that falls away by less is called flat.
STEEPEST_FLAT_DEG = 5.0
# World records of sea-level pressure are 87.0 kPa and 108.38 kPa (World Meteorological
# Organization, archive of weather and climate extremes) beside the usual 101.325 kPa.
LEAST_OF_USUAL, MOST_OF_USUAL = 0.85, 1.08
FASTEST_LAP_KMH = 160.0


class Air(Entry):
    """The weather at the track."""

    temperature_c: (
        Annotated[float, Quantity("°C", -25, 55, "Air temperature", (5, 15, 22, 30, 36))] | None
    ) = None
    pressure_kpa: (
        Annotated[
            float,
            Quantity("kPa", 55, 110, "Air pressure at the track, not sea level", (80, 90, 98, 101)),
        ]
        | None
    ) = None
    elevation_m: (
        Annotated[
            float, Quantity("m", -430, 5000, "Elevation above sea level", (0, 300, 800, 1800))
        ]
        | None
    ) = None
    humidity_pct: (
        Annotated[float, Quantity("%", 0, 100, "Relative humidity", (20, 45, 65, 85))] | None
    ) = None
    rain: Annotated[str, Word("Rain expected today", words.RAINS)] | None = None
    wind: Annotated[str, Word("Wind", words.WINDS)] | None = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Compare the pressure with what is left of the air at that elevation."""
        if self.pressure_kpa is None or self.elevation_m is None:
            return
        # ISO 2533:1975, the standard atmosphere up to 11 km.
        usual_kpa = 101.325 * (1 - 2.25577e-5 * self.elevation_m) ** 5.25588
        if not LEAST_OF_USUAL < self.pressure_kpa / usual_kpa < MOST_OF_USUAL:
            found = (
                f"{self.pressure_kpa:.4g} kPa at {self.elevation_m:g} m above the sea, where "
                f"{usual_kpa:.3g} kPa is usual"
            )
            mend = "read the pressure at the track itself, not reduced to sea level"
            yield Contradiction(("pressure",), found, mend)


class SoilStrength(Entry):
    """Shear and plate test values of the ground, for those who have them."""

    cohesion_kpa: Annotated[float, Quantity("kPa", 0, 150, "Cohesion", (1, 4, 10))] | None = None
    friction_angle_deg: (
        Annotated[float, Quantity("°", 0, 55, "Angle of internal friction", (12, 25, 34))] | None
    ) = None
    shear_deformation_mm: (
        Annotated[float, Quantity("mm", 2, 100, "Shear deformation modulus", (10, 25, 50))] | None
    ) = None
    sinkage_exponent: (
        Annotated[float, Quantity("", 0.05, 2.5, "Sinkage exponent", (0.3, 0.7, 1.1))] | None
    ) = None
    cohesive_modulus: (
        Annotated[
            float, Quantity("", 0, 500, "Cohesive sinkage modulus in kN/m^(n+1)", (1, 10, 50))
        ]
        | None
    ) = None
    frictional_modulus: (
        Annotated[
            float,
            Quantity("", 1, 20000, "Frictional sinkage modulus in kN/m^(n+2)", (100, 1500, 5000)),
        ]
        | None
    ) = None


class Ground(Entry):
    """The ground around the lap."""

    texture: Annotated[str, Word("Soil texture class", words.TEXTURES)] | None = None
    sand_pct: (
        Annotated[float, Quantity("%", 0, 100, "Sand in the soil", (20, 40, 65, 90))] | None
    ) = None
    silt_pct: Annotated[float, Quantity("%", 0, 100, "Silt in the soil", (5, 25, 50))] | None = None
    clay_pct: Annotated[float, Quantity("%", 0, 100, "Clay in the soil", (5, 20, 45))] | None = None
    ribbon_length_mm: (
        Annotated[
            float, Quantity("mm", 0, 150, "Longest ribbon a moist fistful makes", (0, 15, 35, 60))
        ]
        | None
    ) = None
    ribbon_feel: (
        Annotated[str, Word("Feel of the wetted soil between the fingers", words.RIBBON_FEELS)]
        | None
    ) = None
    moisture: Annotated[str, Word("Moisture by feel", words.MOISTURES)] | None = None
    available_water_pct: (
        Annotated[
            float,
            Quantity(
                "%", 0, 200, "Available water (100 = all the soil can hold)", (10, 40, 70, 110)
            ),
        ]
        | None
    ) = None
    firmness: Annotated[str, Word("Firmness by heel test", words.HEELS)] | None = None
    cone_index_kpa: (
        Annotated[
            float, Quantity("kPa", 5, 9000, "Cone index by penetrometer", (150, 450, 1200, 3000))
        ]
        | None
    ) = None
    strength: SoilStrength | None = None
    loose_depth_mm: (
        Annotated[float, Quantity("mm", 0, 600, "Depth of loose ground", (0, 25, 70, 150))] | None
    ) = None
    rut_depth_mm: (
        Annotated[float, Quantity("mm", 0, 700, "Depth of the usual rut", (0, 40, 120, 250))] | None
    ) = None
    braking_bump_height_mm: (
        Annotated[float, Quantity("mm", 0, 600, "Height of the braking bumps", (0, 60, 150, 300))]
        | None
    ) = None
    stones: Annotated[str, Word("Stones", words.AMOUNTS)] | None = None
    dust: Annotated[str, Word("Dust", words.AMOUNTS)] | None = None
    wear: Annotated[str, Word("How worn the track is", words.WEARS)] | None = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Add up sand, silt and clay, which are the whole of the soil."""
        shares = {
            name: share
            for name, share in (
                ("sand", self.sand_pct),
                ("silt", self.silt_pct),
                ("clay", self.clay_pct),
            )
            if share is not None
        }
        total = sum(shares.values())
        too_much = total > 100.0 + ROUNDING_OF_SHARES_PCT
        too_little = len(shares) == 3 and total < 100.0 - ROUNDING_OF_SHARES_PCT
        if too_much or too_little:
            *first, last = shares
            found = f"{', '.join(first)} and {last} add up to {total:g} %"
            mend = "read the three again: together they are 100 %"
            yield Contradiction((last,), found, mend)


class Start(Entry):
    """The gate, the ground just after it, and the way to the first corner."""

    surface: (
        Annotated[str, Word("Surface under the rear wheel at the gate", words.GATE_SURFACES)] | None
    ) = None
    condition: Annotated[str, Word("State of that surface", words.GATE_CONDITIONS)] | None = None
    surface_length_m: (
        Annotated[float, Quantity("m", 0, 20, "How far the rear wheel stays on it", (0.5, 1.5, 4))]
        | None
    ) = None
    after_texture: (
        Annotated[str, Word("Soil texture just after the gate, if it differs", words.TEXTURES)]
        | None
    ) = None
    after_firmness: (
        Annotated[str, Word("Firmness just after the gate, by heel test", words.HEELS)] | None
    ) = None
    after_cone_index_kpa: (
        Annotated[
            float,
            Quantity("kPa", 5, 9000, "Cone index just after the gate", (150, 450, 1200, 3000)),
        ]
        | None
    ) = None
    after_moisture: (
        Annotated[str, Word("Moisture just after the gate, by feel", words.MOISTURES)] | None
    ) = None
    straight_length_m: (
        Annotated[
            float, Quantity("m", 5, 400, "From the gate to the first corner", (30, 60, 100, 160))
        ]
        | None
    ) = None
    first_corner: Annotated[str, Word("First corner", words.FIRST_CORNERS)] | None = None


class Whoops(Entry):
    """The whoops section."""

    count: (
        Annotated[float, Quantity("", 0, 60, "Number of whoops", (0, 6, 10, 16), whole=True)] | None
    ) = None
    spacing_m: (
        Annotated[float, Quantity("m", 0.5, 12, "Whoops, top to top", (2.4, 3.2, 4.2))] | None
    ) = None
    height_mm: (
        Annotated[float, Quantity("mm", 0, 1500, "Height of the whoops", (300, 550, 800))] | None
    ) = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse spacing and height of no whoops."""
        if self.count == 0:
            mend = "write how many whoops there are, or take {} out"
            if self.spacing_m is not None:
                found = f"no whoops, but {self.spacing_m:g} m from top to top"
                yield Contradiction(("spacing",), found, mend.format("spacing"))
            if self.height_mm:
                found = f"no whoops, but {self.height_mm:g} mm high"
                yield Contradiction(("height",), found, mend.format("height"))


class Jump(Entry):
    """One jump."""

    name: Name | None = None
    gap_m: (
        Annotated[float, Quantity("m", 0, 50, "Gap from lip to landing", (4, 9, 16, 24))] | None
    ) = None
    drop_m: (
        Annotated[
            float, Quantity("m", -8, 12, "How far the landing lies below the lip", (-1, 0, 1, 3))
        ]
        | None
    ) = None
    take_off_angle_deg: (
        Annotated[float, Quantity("°", 0, 75, "Take-off angle", (15, 25, 35, 45))] | None
    ) = None
    landing: Annotated[str, Word("Landing", words.LANDINGS)] | None = None
    landing_angle_deg: (
        Annotated[float, Quantity("°", 0, 60, "Slope of the landing, downward", (0, 15, 25, 32))]
        | None
    ) = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a flat landing that slopes."""
        slope = self.landing_angle_deg
        if self.landing == "flat" and slope is not None and slope > STEEPEST_FLAT_DEG:
            found = f"a flat landing, but sloping by {slope:g}°"
            yield Contradiction(("landing_angle",), found, "write landing: slope, or take this out")


class Corners(Entry):
    """The corners, counted by kind."""

    flat: Annotated[float, Quantity("", 0, 80, "Flat corners", (0, 2, 5), whole=True)] | None = None
    banked: (
        Annotated[float, Quantity("", 0, 80, "Banked corners", (0, 4, 9), whole=True)] | None
    ) = None
    rutted: (
        Annotated[float, Quantity("", 0, 80, "Rutted corners", (0, 2, 6), whole=True)] | None
    ) = None
    tightest_radius_m: (
        Annotated[float, Quantity("m", 1, 60, "Radius of the tightest corner", (3, 5, 8, 14))]
        | None
    ) = None


class Lap(Entry):
    """The lap and the race."""

    length_m: (
        Annotated[float, Quantity("m", 100, 12000, "Length of a lap", (500, 1400, 1900))] | None
    ) = None
    time_s: Annotated[float, Quantity("s", 15, 1200, "Usual lap time", (50, 95, 130))] | None = None
    top_speed_kmh: (
        Annotated[
            float,
            Quantity("km/h", 15, 160, "Speed at the end of the fastest straight", (50, 75, 95)),
        ]
        | None
    ) = None
    moto_min: (
        Annotated[float, Quantity("min", 1, 180, "Length of the race", (8, 18, 35))] | None
    ) = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a lap quicker than top speed all the way round."""
        if self.length_m is None or self.time_s is None:
            return
        mean_kmh = 3.6 * self.length_m / self.time_s
        fastest_kmh = FASTEST_LAP_KMH if self.top_speed_kmh is None else self.top_speed_kmh
        if mean_kmh > fastest_kmh:
            against = "" if self.top_speed_kmh is None else f", top speed is {fastest_kmh:g} km/h"
            found = f"{self.length_m:g} m in {self.time_s:g} s is {mean_kmh:.0f} km/h{against}"
            yield Contradiction(("time",), found, "mend length, time or top_speed")


class Hills(Entry):
    """The hills."""

    steepest_climb_deg: (
        Annotated[float, Quantity("°", 0, 60, "Steepest climb", (0, 10, 20, 30))] | None
    ) = None
    steepest_descent_deg: (
        Annotated[float, Quantity("°", 0, 60, "Steepest descent", (0, 10, 20, 30))] | None
    ) = None


class Later(Entry):
    """A time later in the day, as planned: water, weather, and what the riding will have done."""

    at: Annotated[str, Text(60)]
    after_min: Annotated[float, Quantity("min", 0, 1440, "How long after the walk")]
    watering_mm: Annotated[float, Quantity("mm", 0, 100, "Water from the truck until then")] = 0.0
    rain_mm: Annotated[float, Quantity("mm", 0, 200, "Rain until then")] = 0.0
    sky: Annotated[str, Word("Sky until then", words.SKIES)] | None = None
    temperature_c: Annotated[float, Quantity("°C", -25, 55, "Air temperature then")] | None = None
    rut_depth_mm: Annotated[float, Quantity("mm", 0, 700, "Depth of the ruts then")] | None = None
    braking_bump_height_mm: (
        Annotated[float, Quantity("mm", 0, 600, "Height of the braking bumps then")] | None
    ) = None
    loose_depth_mm: (
        Annotated[float, Quantity("mm", 0, 600, "Depth of loose ground then")] | None
    ) = None
    wear: Annotated[str, Word("How worn the track is then", words.WEARS)] | None = None


class Walk(Entry):
    """A walk of the track: everything but event and date may be missing."""

    event: Annotated[str, Text(120)]
    date: Day
    venue: Annotated[str, Text(120)] | None = None
    kind: Annotated[str, Word("Kind of track", words.KINDS)] | None = None
    note: Note | None = None
    air: Air | None = None
    ground: Ground | None = None
    start: Start | None = None
    whoops: Whoops | None = None
    jumps: list[Jump] | None = Field(default=None, max_length=40)
    corners: Corners | None = None
    lap: Lap | None = None
    hills: Hills | None = None
    later: list[Later] | None = Field(default=None, max_length=12)

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse two plans of one name: only one of them could be asked for."""
        places: dict[str, int] = {}
        for place, plan in enumerate(self.later or ()):
            first = places.setdefault(plan.at.strip().lower(), place)
            if first != place:
                found = f"{plan.at!r} is planned already"
                mend = "give each plan a name of its own, or keep one of them"
                yield Contradiction(("later", place, "at"), found, mend, ("later", first, "at"))
