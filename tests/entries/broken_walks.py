"""Walks with one mistake each, and the whole message that each gets.

Event and date stand above, on lines 1 and 2.
"""

from __future__ import annotations

FAILURES = {
    "unknown key, one letter wrong": (
        "air: {temprature: 20}",
        "walk.yaml:3 air.temprature: the key is unknown; "
        "did you mean temperature? (plain numbers are in °C)",
    ),
    "unknown key, only begun": (
        "air: {temp: 20}",
        "walk.yaml:3 air.temp: the key is unknown; "
        "did you mean temperature? (plain numbers are in °C)",
    ),
    "key written as the season's column": (
        "ground:\n  cone_index_kpa: 450",
        "walk.yaml:4 ground.cone_index_kpa: the key is unknown; "
        "did you mean cone_index? (plain numbers are in kPa)",
    ),
    "key of another group": (
        "cone_index: 450",
        "walk.yaml:3 cone_index: the key is unknown; it belongs to ground.cone_index",
    ),
    "key of another group, one letter wrong": (
        "firmnes: dents",
        "walk.yaml:3 firmnes: the key is unknown; did you mean ground.firmness? "
        "known here: event, date, venue, kind, note, air, ground, start, whoops, jumps, corners, "
        "lap, hills, later",
    ),
    "unknown key, nothing near anywhere": (
        "xyz: 1",
        "walk.yaml:3 xyz: the key is unknown; known here: event, date, venue, kind, note, air, "
        "ground, start, whoops, jumps, corners, lap, hills, later",
    ),
    "unknown key, nothing near": (
        "hills: {sun: high}",
        "walk.yaml:3 hills.sun: the key is unknown; known here: steepest_climb, steepest_descent",
    ),
    "unknown key in a list": (
        "jumps:\n  - gap: 4\n  - {gap: 5, lenght: 3}",
        "walk.yaml:5 jumps.2.lenght: the key is unknown; did you mean lap.length? "
        "known here: name, gap, drop, take_off_angle, landing, landing_angle",
    ),
    "capital letter": (
        "Venue: here",
        "walk.yaml:3 Venue: the key is unknown; did you mean venue?",
    ),
    "duplicate key": (
        "venue: one\nvenue: two",
        "walk.yaml:4 venue: the key stands twice (first on line 3); keep one of them",
    ),
    "unit of another kind": (
        "air: {pressure: 13 mm}",
        "walk.yaml:3 air.pressure: '13 mm': 'mm' is no unit for this; "
        "write a number from 55 to 110 kPa (or psi, bar or inHg)",
    ),
    "no unit at all": (
        "air: {pressure: 13 apples}",
        "walk.yaml:3 air.pressure: '13 apples': 'apples' is no unit for this; "
        "write a number from 55 to 110 kPa (or psi, bar or inHg)",
    ),
    "impossible number": (
        "air: {temperature: 200}",
        "walk.yaml:3 air.temperature: 200 °C cannot be right; "
        "write a number from -25 to 55 °C (or °F)",
    ),
    "impossible number in another unit": (
        "air: {temperature: 200 °F}",
        "walk.yaml:3 air.temperature: '200 °F' (93.3333 °C) cannot be right; "
        "write a number from -25 to 55 °C (or °F)",
    ),
    "impossible number in the field's unit": (
        "air: {humidity: 101 %}",
        "walk.yaml:3 air.humidity: '101 %' cannot be right; write a number from 0 to 100 %",
    ),
    "negative count": (
        "corners: {flat: -1}",
        "walk.yaml:3 corners.flat: -1 cannot be right; write a whole number from 0 to 80",
    ),
    "half a corner": (
        "corners: {flat: 2.5}",
        "walk.yaml:3 corners.flat: 2.5 is no whole number; write a whole number from 0 to 80",
    ),
    "not a number, in YAML's way": (
        "air: {temperature: .nan}",
        "walk.yaml:3 air.temperature: '.nan' is no number; "
        "write a number from -25 to 55 °C (or °F)",
    ),
    "not a number, in words": (
        "air: {temperature: nan}",
        "walk.yaml:3 air.temperature: 'nan' is no number; write a number from -25 to 55 °C (or °F)",
    ),
    "infinite": (
        "air: {temperature: inf}",
        "walk.yaml:3 air.temperature: 'inf' is no number; write a number from -25 to 55 °C (or °F)",
    ),
    "infinite by its exponent": (
        "air: {temperature: 1e999}",
        "walk.yaml:3 air.temperature: inf °C cannot be right; "
        "write a number from -25 to 55 °C (or °F)",
    ),
    "a truth value for a number": (
        "air: {temperature: true}",
        "walk.yaml:3 air.temperature: true is no number; write a number from -25 to 55 °C (or °F)",
    ),
    "a word for a number": (
        "ground: {cone_index: soft}",
        "walk.yaml:3 ground.cone_index: 'soft' is no number; "
        "write a number from 5 to 9000 kPa (or psi, bar or inHg)",
    ),
    "a list for a number": (
        "ground: {cone_index: [400, 500]}",
        "walk.yaml:3 ground.cone_index: a list is no number; "
        "write a number from 5 to 9000 kPa (or psi, bar or inHg)",
    ),
    "a span for a number": (
        "ground: {rut_depth: 40-120 mm}",
        "walk.yaml:3 ground.rut_depth: '40-120 mm' is not one clear number; "
        "write one number, the usual one",
    ),
    "a comma that may part thousands": (
        "air: {elevation: '1,840 ft'}",
        "walk.yaml:3 air.elevation: '1,840 ft' is not one clear number; "
        "write 1840, or 1.840 with a point",
    ),
    "an unknown word, one letter wrong": (
        "kind: stadum",
        "walk.yaml:3 kind: 'stadum' is not known here; "
        "did you mean stadium? write one of stadium, outdoor, sand",
    ),
    "an unknown word": (
        "kind: forest",
        "walk.yaml:3 kind: 'forest' is not known here; write one of stadium, outdoor, sand",
    ),
    "a number for a word": (
        "kind: 2",
        "walk.yaml:3 kind: 2 is not known here; write one of stadium, outdoor, sand",
    ),
    "a list for a word": (
        "kind: [sand]",
        "walk.yaml:3 kind: a list is not known here; "
        "did you mean sand? write one of stadium, outdoor, sand",
    ),
    "a value for a group": (
        "hills: steep",
        "walk.yaml:3 hills: 'steep' does not fit here; "
        "write keys below it, indented: steepest_climb, steepest_descent",
    ),
    "a list for a group": (
        "hills: [1, 2]",
        "walk.yaml:3 hills: a list does not fit here; "
        "write keys below it, indented: steepest_climb, steepest_descent",
    ),
    "a group for a list": (
        "jumps: {gap: 4}",
        "walk.yaml:3 jumps: a group of keys does not fit here; "
        "write a list: one item a line, each behind a dash",
    ),
    "a value in a list of groups": (
        "jumps:\n  - 4",
        "walk.yaml:4 jumps.1: 4 does not fit here; write keys below it, indented: "
        "name, gap, drop, take_off_angle, landing, landing_angle",
    ),
    "too many in a list": (
        "jumps: [" + "{gap: 4}, " * 41 + "]",
        "walk.yaml:3 jumps: 41 stand here; write at most 40",
    ),
    "a number for a text": (
        "venue: 450",
        'walk.yaml:3 venue: 450 is no text; write text, in quotes: "450"',
    ),
    "a list for a text": ("venue: [a]", "walk.yaml:3 venue: a list is no text; write text"),
    "an empty text": (
        "venue: ''",
        "walk.yaml:3 venue: the text is empty; write something, or take the key out",
    ),
    "a text too long": (
        f"venue: {'x' * 121}",
        f"walk.yaml:3 venue: '{'x' * 43}...' is 121 characters long; write at most 120 characters",
    ),
    "a text that could write on the screen": (
        'venue: "a\\e[2Jb"',
        "walk.yaml:3 venue: the text holds a character that cannot be printed (U+001B); "
        "take it out",
    ),
    "a text of two lines": (
        "venue: |\n  one\n  two",
        "walk.yaml:3 venue: the text runs over several lines; write it on one line",
    ),
}

# What cannot be true together.

CONTRADICTIONS = {
    "shares of the soil above the whole": (
        "ground: {sand: 50, silt: 30, clay: 22}",
        "walk.yaml:3 ground.clay: sand, silt and clay add up to 102 %; "
        "read the three again: together they are 100 %",
    ),
    "shares of the soil below the whole": (
        "ground: {sand: 50, silt: 30, clay: 18}",
        "walk.yaml:3 ground.clay: sand, silt and clay add up to 98 %; "
        "read the three again: together they are 100 %",
    ),
    "two shares above the whole": (
        "ground: {silt: 60, sand: 60}",
        "walk.yaml:3 ground.silt: sand and silt add up to 120 %; "
        "read the three again: together they are 100 %",
    ),
    "a flat landing that slopes": (
        "jumps:\n  - {landing: slope, landing_angle: 20}\n  - {landing: flat, landing_angle: 20}",
        "walk.yaml:5 jumps.2.landing_angle: a flat landing, but sloping by 20°; "
        "write landing: slope, or take this out",
    ),
    "no whoops, but apart": (
        "whoops: {count: 0, spacing: 3 m}",
        "walk.yaml:3 whoops.spacing: no whoops, but 3 m from top to top; "
        "write how many whoops there are, or take spacing out",
    ),
    "no whoops, but high": (
        "whoops: {count: 0, height: 300}",
        "walk.yaml:3 whoops.height: no whoops, but 300 mm high; "
        "write how many whoops there are, or take height out",
    ),
    "a lap quicker than top speed": (
        "lap: {length: 1600, time: '1:05', top_speed: 60}",
        "walk.yaml:3 lap.time: 1600 m in 65 s is 89 km/h, top speed is 60 km/h; "
        "mend length, time or top_speed",
    ),
    "a lap quicker than any motorcycle": (
        "lap: {length: 1600, time: 16}",
        "walk.yaml:3 lap.time: 1600 m in 16 s is 360 km/h; mend length, time or top_speed",
    ),
    "two plans of one name": (
        "later:\n  - {at: moto 1, after: 1 h}\n  - {at: moto 2, after: 2 h}\n"
        "  - at: Moto 1\n    after: 3 h",
        "walk.yaml:6 later.3.at: 'Moto 1' is planned already (first in walk.yaml:4 later.1.at); "
        "give each plan a name of its own, or keep one of them",
    ),
    "the pressure of the forecast, not of the track": (
        "air: {pressure: 101.3, elevation: 1840}",
        "walk.yaml:3 air.pressure: 101.3 kPa at 1840 m above the sea, where 81.1 kPa is usual; "
        "read the pressure at the track itself, not reduced to sea level",
    ),
}
