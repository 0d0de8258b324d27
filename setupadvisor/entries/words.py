"""The words of by-feel answers, in their natural order; every floor above uses these."""

from __future__ import annotations

KINDS = ("stadium", "outdoor", "sand")

# USDA Soil Survey Manual, the twelve texture classes.
TEXTURES = (
    "sand",
    "loamy_sand",
    "sandy_loam",
    "loam",
    "silt_loam",
    "silt",
    "sandy_clay_loam",
    "clay_loam",
    "silty_clay_loam",
    "sandy_clay",
    "silty_clay",
    "clay",
)
RIBBON_FEELS = ("gritty", "smooth", "neither")
# USDA NRCS feel and appearance method, quarters of the available water, then what it cannot hold.
MOISTURES = ("dry", "slightly_moist", "moist", "very_moist", "wet", "waterlogged")
# The heel test: how the ground answers a boot heel with the body's weight. Common practice.
HEELS = ("sinks_deep", "sinks", "dents", "marks", "no_mark")
AMOUNTS = ("none", "some", "heavy")
WEARS = ("fresh", "used", "rough")
RAINS = ("none", "possible", "likely", "raining")
WINDS = ("calm", "light", "strong")
GATE_SURFACES = ("concrete", "metal_grid", "dirt")
GATE_CONDITIONS = ("dry", "damp", "wet", "dusty")
FIRST_CORNERS = ("open", "medium", "tight")
LANDINGS = ("slope", "flat")
SKILLS = ("novice", "club", "expert", "professional")
HANDS = ("smooth", "average", "aggressive")
SKIES = ("clear", "partly_cloudy", "overcast")
