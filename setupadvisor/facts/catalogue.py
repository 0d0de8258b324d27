"""The catalogue of facts, in the order in which they can be calculated."""

from __future__ import annotations

from setupadvisor.facts.air_facts import AIR_FACTS
from setupadvisor.facts.chassis_facts import CHASSIS_FACTS
from setupadvisor.facts.drive_facts import DRIVE_FACTS
from setupadvisor.facts.fact import Fact
from setupadvisor.facts.grip_facts import GRIP_FACTS
from setupadvisor.facts.ground_facts import GROUND_FACTS
from setupadvisor.facts.start_facts import START_FACTS
from setupadvisor.facts.track_facts import TRACK_FACTS
from setupadvisor.facts.vibration_facts import VIBRATION_FACTS

FACTS: dict[str, Fact] = {
    fact.name: fact
    for fact in (
        *AIR_FACTS,
        *GROUND_FACTS,
        *GRIP_FACTS,
        *START_FACTS,
        *TRACK_FACTS,
        *CHASSIS_FACTS,
        *VIBRATION_FACTS,
        *DRIVE_FACTS,
    )
}
