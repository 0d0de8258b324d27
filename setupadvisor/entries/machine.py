"""The machine file: geometry, masses, springs, engine, every setting, the parts on the shelf."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from setupadvisor.entries.quantity import Entry, Quantity, mistake, shown

Text = Annotated[str, Field(min_length=1, max_length=400)]


class Geometry(Entry):
    """Where things are, at the reference setup, rider aboard at race sag."""

    wheelbase_mm: Annotated[float, Quantity("mm", 800, 1900, "Wheelbase")]
    rake_deg: Annotated[float, Quantity("°", 15, 40, "Rake from the vertical")]
    fork_offset_mm: Annotated[float, Quantity("mm", 5, 60, "Front axle ahead of the steering axis, square to it")]
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

    @model_validator(mode="after")
    def _mass_between_wheels(self) -> Geometry:
        if self.centre_of_mass_to_rear_axle_mm >= self.wheelbase_mm:
            raise mistake(
                f"the centre of mass lies {self.centre_of_mass_to_rear_axle_mm:g} mm ahead of the "
                f"rear axle, beyond the wheelbase of {self.wheelbase_mm:g} mm",
                "measure it from the rear axle; it lies between the wheels",
            )
        return self


class Masses(Entry):
    """What the scale says."""

    machine_kg: Annotated[float, Quantity("kg", 30, 300, "Machine, ready to race, without fuel")]
    fuel_kg: Annotated[float, Quantity("kg", 0, 25, "Fuel on board")] = 5.0
    unsprung_front_kg: Annotated[float, Quantity("kg", 3, 40, "Front wheel and lower fork")]
    unsprung_rear_kg: Annotated[float, Quantity("kg", 3, 50, "Rear wheel and part of the swingarm")]


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

    @model_validator(mode="after")
    def _curve_is_one(self) -> Shock:
        if len(self.curve_travel_mm) != len(self.motion_ratio):
            raise mistake(
                f"{len(self.curve_travel_mm)} travels beside {len(self.motion_ratio)} ratios",
                "give one motion ratio for each wheel travel",
            )
        if sorted(set(self.curve_travel_mm)) != list(self.curve_travel_mm):
            raise mistake("the wheel travels do not rise", "list them from 0 upward")
        return self


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
    idle_fuel_note: Text | None = None

    @model_validator(mode="after")
    def _curve_is_one(self) -> Engine:
        if len(self.curve_speed_rpm) != len(self.torque_nm):
            raise mistake(
                f"{len(self.curve_speed_rpm)} engine speeds beside {len(self.torque_nm)} torques",
                "give one torque for each engine speed",
            )
        if sorted(set(self.curve_speed_rpm)) != list(self.curve_speed_rpm):
            raise mistake("the engine speeds do not rise", "list them from low to high")
        return self


class Clutch(Entry):
    """The clutch pack."""

    friction_faces: Annotated[float, Quantity("", 2, 30, "Friction faces", whole=True)]
    outer_diameter_mm: Annotated[float, Quantity("mm", 50, 250, "Outer diameter of the lining")]
    inner_diameter_mm: Annotated[float, Quantity("mm", 30, 240, "Inner diameter of the lining")]
    friction: Annotated[float, Quantity("", 0.04, 0.5, "Friction coefficient in oil")]
    springs: Annotated[float, Quantity("", 1, 12, "Number of springs", whole=True)]
    spring_compression_mm: Annotated[float, Quantity("mm", 2, 40, "Springs' fitted compression")]


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
    warm_up_c: Annotated[float, Quantity("°C", 0, 60, "How much a tyre warms above the air")] = 18.0


class Cooling(Entry):
    """Coolant temperatures."""

    coolant_above_air_c: Annotated[
        float, Quantity("°C", 20, 110, "Coolant above air temperature in hard riding")
    ] = 72.0


class StartDevice(Entry):
    """The device that holds the fork down for the start."""

    lowest_mm: Annotated[float, Quantity("mm", 0, 250, "Shallowest lock")]
    highest_mm: Annotated[float, Quantity("mm", 5, 280, "Deepest lock")]


class House(Entry):
    """Where a setting starts: a fact that gives it, and a value when that fact is missing."""

    fact: Text
    otherwise: float


class Setting(Entry):
    """One thing that can be set on this machine."""

    title: Text
    group: Text
    unit: str = ""
    low: float | None = None
    high: float | None = None
    step: float | None = Field(default=None, gt=0)
    shelf: list[float] | None = Field(default=None, min_length=1, max_length=80)
    names: list[Text] | None = Field(default=None, min_length=2, max_length=20)
    up: Text
    down: Text
    house: float | House
    felt: float | None = Field(default=None, gt=0)
    minutes: float = Field(gt=0, le=600)
    tools: list[Text] = Field(max_length=12)
    order: int = Field(ge=0, le=100000)
    check: Text
    undo: Text
    cautions: list[Text] = Field(default_factory=list, max_length=8)

    @model_validator(mode="before")
    @classmethod
    def _range_as_pair(cls, data: Any) -> Any:
        if isinstance(data, dict) and "range" in data:
            pair = data["range"]
            if (
                not isinstance(pair, list)
                or len(pair) != 2
                or any(isinstance(end, bool) or not isinstance(end, int | float) for end in pair)
                or pair[0] >= pair[1]
            ):
                raise mistake(f"range: {shown(pair)} is no range", "write range: [lowest, highest]")
            rest = {key: value for key, value in data.items() if key != "range"}
            return {**rest, "low": float(pair[0]), "high": float(pair[1])}
        return data

    @field_validator("house", mode="before")
    @classmethod
    def _house_by_name(cls, value: Any, info: Any) -> Any:
        names = info.data.get("names")
        if isinstance(value, str) and names and value in names:
            return float(names.index(value) + 1)
        return value

    @model_validator(mode="after")
    def _one_scale(self) -> Setting:
        scales = [self.step is not None, self.shelf is not None, self.names is not None]
        if sum(scales) != 1 or (self.step is not None) != (self.low is not None):
            raise mistake(
                "the setting has no clear scale",
                "give range and step, or shelf (a list of numbers), or names (a list of words)",
            )
        if self.up == self.down:
            raise mistake(f"up and down are both {self.up!r}", "give two direction words")
        house = self.fixed_house
        if not self.lowest <= house <= self.highest:
            raise mistake(
                f"the house value {house:g} is outside {self.lowest:g} to {self.highest:g}",
                "move the house value or the range",
            )
        return self

    @property
    def fixed_house(self) -> float:
        """The house value where no formula speaks."""
        return self.house.otherwise if isinstance(self.house, House) else self.house

    @property
    def values(self) -> tuple[float, ...]:
        """Every value that can be set, lowest first."""
        if self.shelf is not None:
            return tuple(sorted(self.shelf))
        if self.names is not None:
            return tuple(float(place) for place in range(1, len(self.names) + 1))
        if self.low is None or self.high is None or self.step is None:
            return ()
        count = round((self.high - self.low) / self.step)
        return tuple(self.low + self.step * place for place in range(count + 1))

    @property
    def lowest(self) -> float:
        """The lowest value that can be set."""
        return self.low if self.low is not None else self.values[0]

    @property
    def highest(self) -> float:
        """The highest value that can be set."""
        return self.high if self.high is not None else self.values[-1]

    def read(self, written: float | str) -> float:
        """Read a value of this setting as written on a sheet: number, number with unit, name.

        Raises
        ------
        pydantic_core.PydanticCustomError
            If it is no value of this setting, with the mend.
        """
        if isinstance(written, str):
            name = written.strip().lower()
            for place, known in enumerate(self.names or (), start=1):
                if name == known.lower():
                    return float(place)
        scale = Quantity(self.unit, self.lowest, self.highest, self.title)
        try:
            return scale.read(written)
        except PydanticCustomError as error:
            if self.names is None:
                raise
            found = (error.context or {})["found"]
            raise mistake(found, f"write one of {', '.join(self.names)}") from None

    def show(self, value: float) -> str:
        """Show a value as a mechanic reads it: ``12 clicks``, ``milder``, ``4.8 N/mm``."""
        if self.names is not None and value == round(value):
            place = round(value) - 1
            if 0 <= place < len(self.names):
                return self.names[place]
        number = f"{round(value, 2):g}"
        return f"{number}{'' if self.unit == '°' else ' '}{self.unit}".strip()


class Machine(Entry):
    """One motorcycle and everything that can be set on it."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    note: str | None = None
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
