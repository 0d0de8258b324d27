"""The machine file: geometry, masses, springs, engine, every setting, the parts on the shelf."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Annotated

from pydantic import Field

from setupadvisor.entries.quantity import Contradiction, Entry, Quantity
from setupadvisor.entries.setting import House, Setting
from setupadvisor.entries.texts import Line, Name, Note

__all__ = ["House", "Machine", "Setting"]


class Geometry(Entry):
    """Where things are, at the reference setup, rider aboard at race sag."""

    wheelbase_mm: Annotated[float, Quantity("mm", 800, 1900, "Wheelbase")]
    rake_deg: Annotated[float, Quantity("°", 15, 40, "Rake from the vertical")]
    fork_offset_mm: Annotated[
        float, Quantity("mm", 5, 60, "Front axle ahead of the steering axis, square to it")
    ]
    front_wheel_radius_mm: Annotated[float, Quantity("mm", 150, 420, "Front rolling radius")]
    rear_wheel_radius_mm: Annotated[float, Quantity("mm", 150, 420, "Rear rolling radius")]
    swingarm_length_mm: Annotated[
        float, Quantity("mm", 300, 800, "Pivot to rear axle at the front end of the slot")
    ]
    pivot_height_mm: Annotated[float, Quantity("mm", 200, 650, "Swingarm pivot above ground")]
    centre_of_mass_height_mm: Annotated[
        float, Quantity("mm", 300, 900, "Machine's centre of mass above ground")
    ]
    centre_of_mass_to_rear_axle_mm: Annotated[
        float, Quantity("mm", 300, 1200, "Machine's centre of mass ahead of the rear axle")
    ]
    rider_height_mm: Annotated[
        float, Quantity("mm", 500, 1600, "Rider's centre of mass above ground, seated forward")
    ]
    rider_to_rear_axle_mm: Annotated[
        float, Quantity("mm", 100, 1300, "Rider's centre of mass ahead of the rear axle")
    ]

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse masses and axles that lie outside the wheelbase."""
        for key, what, length_mm in (
            (
                "centre_of_mass_to_rear_axle",
                "the centre of mass",
                self.centre_of_mass_to_rear_axle_mm,
            ),
            ("rider_to_rear_axle", "the rider", self.rider_to_rear_axle_mm),
            ("swingarm_length", "the swingarm's pivot", self.swingarm_length_mm),
        ):
            if length_mm >= self.wheelbase_mm:
                found = (
                    f"{what} lies {length_mm:g} mm ahead of the rear axle, beyond the wheelbase of "
                    f"{self.wheelbase_mm:g} mm"
                )
                mend = "measure it from the rear axle; it lies between the wheels"
                yield Contradiction((key,), found, mend)


class Masses(Entry):
    """What the scale says."""

    machine_kg: Annotated[float, Quantity("kg", 30, 300, "Machine, ready to race, without fuel")]
    fuel_kg: Annotated[float, Quantity("kg", 0, 25, "Fuel on board")] = 5.0
    unsprung_front_kg: Annotated[float, Quantity("kg", 3, 40, "Front wheel and lower fork")]
    unsprung_rear_kg: Annotated[float, Quantity("kg", 3, 50, "Rear wheel and part of the swingarm")]

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a machine lighter than its wheels."""
        unsprung_kg = self.unsprung_front_kg + self.unsprung_rear_kg
        if unsprung_kg >= self.machine_kg:
            found = f"{self.machine_kg:g} kg, with unsprung parts of {unsprung_kg:g} kg"
            yield Contradiction(("machine",), found, "weigh the whole machine, wheels included")


class Fork(Entry):
    """The fork: both legs together where nothing else is said."""

    stroke_mm: Annotated[float, Quantity("mm", 50, 400, "Stroke")]
    legs_with_spring: Annotated[
        float, Quantity("", 1, 2, "Legs with a coil spring", whole=True)
    ] = 2
    bore_mm: Annotated[float, Quantity("mm", 15, 80, "Inner bore of the air chamber")]
    air_column_mm: Annotated[float, Quantity("mm", 30, 600, "Air column, fork extended")]
    air_exponent: Annotated[float, Quantity("", 1, 1.67, "Polytropic exponent")] = 1.3
    friction_n: Annotated[float, Quantity("N", 0, 400, "Friction of both legs")] = 60.0
    race_sag_mm: Annotated[float, Quantity("mm", 10, 120, "Wanted sag with the rider")]
    damping_low_speed: (
        Annotated[float, Quantity("", 10, 20000, "Damping at low shaft speed in N s/m, both legs")]
        | None
    ) = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a fork that sags or fills beyond its stroke."""
        if self.race_sag_mm >= self.stroke_mm:
            found = f"{self.race_sag_mm:g} mm of sag in {self.stroke_mm:g} mm of stroke"
            yield Contradiction(("race_sag",), found, "measure the sag along the fork")
        if self.air_column_mm <= self.stroke_mm:
            found = f"{self.air_column_mm:g} mm of air, less than {self.stroke_mm:g} mm of stroke"
            mend = "give the air column with the fork extended: stroke plus oil level"
            yield Contradiction(("air_column",), found, mend)


class Shock(Entry):
    """The shock and its linkage."""

    stroke_mm: Annotated[float, Quantity("mm", 20, 250, "Stroke of the shock")]
    wheel_travel_mm: Annotated[float, Quantity("mm", 50, 450, "Travel of the rear wheel")]
    curve_travel_mm: list[Annotated[float, Quantity("mm", 0, 450, "Wheel travel")]] = Field(
        min_length=2, max_length=60
    )
    motion_ratio: list[Annotated[float, Quantity("", 0.05, 2, "Shock travel per wheel travel")]] = (
        Field(min_length=2, max_length=60)
    )
    standard_preload_mm: Annotated[float, Quantity("mm", 0, 40, "Usual spring preload")] = 10.0
    race_sag_mm: Annotated[float, Quantity("mm", 20, 160, "Wanted sag with the rider")]
    static_sag_low_mm: Annotated[float, Quantity("mm", 0, 90, "Least static sag")] = 30.0
    static_sag_high_mm: Annotated[float, Quantity("mm", 0, 90, "Most static sag")] = 45.0

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a curve that is none, and sag beyond the travel."""
        travels, ratios = self.curve_travel_mm, self.motion_ratio
        if len(travels) != len(ratios):
            found = f"{len(travels)} travels beside {len(ratios)} ratios"
            mend = "give one motion ratio for each wheel travel"
            yield Contradiction(("motion_ratio",), found, mend)
        if not _rises(travels):
            mend = "list them from 0 upward"
            yield Contradiction(("curve_travel",), "the wheel travels do not rise", mend)
        if self.race_sag_mm >= self.wheel_travel_mm:
            found = f"{self.race_sag_mm:g} mm of sag in {self.wheel_travel_mm:g} mm of travel"
            yield Contradiction(("race_sag",), found, "measure the sag at the wheel")
        low, high = self.static_sag_low_mm, self.static_sag_high_mm
        if low > high:
            found = f"at least {low:g} mm, but at most {high:g} mm"
            yield Contradiction(("static_sag_low",), found, "swap the two")
        if high >= self.race_sag_mm:
            found = f"{high:g} mm without the rider, {self.race_sag_mm:g} mm with the rider"
            mend = "the rider adds to the sag: give more race sag or less static sag"
            yield Contradiction(("static_sag_high",), found, mend)


class Engine(Entry):
    """The engine, its gears, and where it was mapped."""

    displacement_cc: Annotated[float, Quantity("cc", 40, 800, "Displacement")]
    curve_speed_rpm: list[Annotated[float, Quantity("rpm", 0, 20000, "Engine speed")]] = Field(
        min_length=2, max_length=100
    )
    torque_nm: list[Annotated[float, Quantity("N m", 0, 150, "Torque at the crankshaft")]] = Field(
        min_length=2, max_length=100
    )
    primary_ratio: Annotated[float, Quantity("", 1, 6, "Primary reduction")]
    gears: list[Annotated[float, Quantity("", 0.4, 6, "Gear ratio")]] = Field(
        min_length=1, max_length=8
    )
    start_gear: Annotated[float, Quantity("", 1, 4, "Gear used for the start", whole=True)] = 2
    corner_gear: Annotated[float, Quantity("", 1, 5, "Gear for tight corners", whole=True)] = 2
    straight_gear: Annotated[
        float, Quantity("", 1, 8, "Gear for the fastest straight", whole=True)
    ] = 4
    corner_speed_rpm: Annotated[float, Quantity("rpm", 1500, 9000, "Lowest useful engine speed")]
    straight_speed_rpm: Annotated[float, Quantity("rpm", 4000, 16000, "Engine speed not to pass")]
    inertia_kg_m2: Annotated[float, Quantity("", 0.0005, 0.2, "Rotating inertia at the crank")] = (
        0.008
    )
    senses_air_pressure: bool = True
    mapped_temperature_c: Annotated[float, Quantity("°C", -10, 45, "Air when it was mapped")] = 20.0
    mapped_elevation_m: Annotated[float, Quantity("m", -430, 4000, "Elevation of mapping")] = 100.0
    idle_fuel_note: Line | None = None

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a curve that is none, and gears that are not there."""
        speeds, torques = self.curve_speed_rpm, self.torque_nm
        if len(speeds) != len(torques):
            found = f"{len(speeds)} engine speeds beside {len(torques)} torques"
            yield Contradiction(("torque",), found, "give one torque for each engine speed")
        if not _rises(speeds):
            mend = "list them from low to high"
            yield Contradiction(("curve_speed",), "the engine speeds do not rise", mend)
        if not _rises(self.gears[::-1]):
            mend = "list them from first gear, the largest ratio, to top gear"
            yield Contradiction(("gears",), "the gear ratios do not fall", mend)
        for key, gear in (
            ("start_gear", self.start_gear),
            ("corner_gear", self.corner_gear),
            ("straight_gear", self.straight_gear),
        ):
            if gear > len(self.gears):
                found = f"gear {gear:g} of {len(self.gears)}"
                yield Contradiction((key,), found, f"write a gear from 1 to {len(self.gears)}")
        if self.corner_speed_rpm >= self.straight_speed_rpm:
            found = f"{self.corner_speed_rpm:g} rpm, the straight {self.straight_speed_rpm:g} rpm"
            mend = "the engine turns faster at the end of the straight than in a corner"
            yield Contradiction(("corner_speed",), found, mend)


class Clutch(Entry):
    """The clutch pack."""

    friction_faces: Annotated[float, Quantity("", 2, 30, "Friction faces", whole=True)]
    outer_diameter_mm: Annotated[float, Quantity("mm", 50, 250, "Outer diameter of the lining")]
    inner_diameter_mm: Annotated[float, Quantity("mm", 30, 240, "Inner diameter of the lining")]
    friction: Annotated[float, Quantity("", 0.04, 0.5, "Friction coefficient in oil")]
    springs: Annotated[float, Quantity("", 1, 12, "Number of springs", whole=True)]
    spring_compression_mm: Annotated[float, Quantity("mm", 2, 40, "Springs' fitted compression")]

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a lining without width."""
        if self.inner_diameter_mm >= self.outer_diameter_mm:
            found = f"{self.inner_diameter_mm:g} mm inside, {self.outer_diameter_mm:g} mm outside"
            yield Contradiction(("inner_diameter",), found, "the lining is a ring; swap the two")


class Drive(Entry):
    """Sprockets, chain, and the slot of the rear axle."""

    chain_pitch_mm: Annotated[float, Quantity("mm", 5, 30, "Chain pitch")] = 15.875
    centre_distance_at_slot_front_mm: Annotated[
        float, Quantity("mm", 300, 900, "Output shaft to rear axle at the front end of the slot")
    ]
    slot_length_mm: Annotated[float, Quantity("mm", 5, 120, "Length of the axle slot")]


class Tyres(Entry):
    """The tyres as the ground meets them."""

    rear_width_mm: Annotated[float, Quantity("mm", 50, 200, "Width of the rear tyre")]
    front_width_mm: Annotated[float, Quantity("mm", 40, 180, "Width of the front tyre")]
    front_hot_pressure_kpa: Annotated[float, Quantity("kPa", 30, 250, "Wanted hot pressure, front")]
    rear_hot_pressure_kpa: Annotated[float, Quantity("kPa", 30, 250, "Wanted hot pressure, rear")]
    warm_up_c: Annotated[
        float, Quantity("°C", 0, 60, "How much a tyre warms above the air", difference=True)
    ] = 18.0


class Cooling(Entry):
    """Coolant temperatures."""

    coolant_above_air_c: Annotated[
        float,
        Quantity("°C", 20, 110, "Coolant above air temperature in hard riding", difference=True),
    ] = 72.0


class StartDevice(Entry):
    """The device that holds the fork down for the start."""

    lowest_mm: Annotated[float, Quantity("mm", 0, 250, "Shallowest lock")]
    highest_mm: Annotated[float, Quantity("mm", 5, 280, "Deepest lock")]

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a device that cannot move."""
        if self.lowest_mm >= self.highest_mm:
            found = f"{self.lowest_mm:g} mm at the least, {self.highest_mm:g} mm at the most"
            yield Contradiction(("lowest",), found, "swap the two")


class Machine(Entry):
    """One motorcycle and everything that can be set on it."""

    name: Name
    note: Note | None = None
    geometry: Geometry
    masses: Masses
    fork: Fork
    shock: Shock
    engine: Engine
    clutch: Clutch
    drive: Drive
    tyres: Tyres
    cooling: Cooling
    start_device: StartDevice
    settings: dict[str, Setting] = Field(min_length=1, max_length=200)

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse a fork held down beyond its stroke."""
        deepest_mm, stroke_mm = self.start_device.highest_mm, self.fork.stroke_mm
        if deepest_mm >= stroke_mm:
            found = f"the fork held {deepest_mm:g} mm down, with {stroke_mm:g} mm of stroke"
            mend = "measure how far the lock holds it down"
            yield Contradiction(("start_device", "highest"), found, mend)


def _rises(numbers: Sequence[float]) -> bool:
    return all(first < then for first, then in pairwise(numbers))
