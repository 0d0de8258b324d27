"""Rows of a season with one mistake each, on line 3, and the whole message that each gets."""

from __future__ import annotations

MISTAKES = {
    "unknown rider": (
        {"rider": "nort"},
        "season.csv:3 rider: the rider 'nort' is unknown; did you mean north? "
        "Else add the rider's file, or columns rider.mass_kg and so on",
    ),
    "unknown rider, nobody near": (
        {"rider": "zoe"},
        "season.csv:3 rider: the rider 'zoe' is unknown; "
        "add the rider's file, or columns rider.mass_kg and so on (known: north, south)",
    ),
    "unknown machine": (
        {"machine": "tractor"},
        "season.csv:3 machine: the machine 'tractor' is unknown; "
        "add its file (known: works-250, works-450)",
    ),
    "no rider": (
        {"rider": ""},
        "season.csv:3 rider: the cell is empty; it is needed; fill it in",
    ),
    "setting off its range": (
        {"setup.fork_compression_low": "90"},
        "season.csv:3 setup.fork_compression_low: '90' cannot be right; "
        "write a number from 2 to 24 clicks",
    ),
    "setting in another unit": (
        {"setup.fork_compression_low": "12 mm"},
        "season.csv:3 setup.fork_compression_low: '12 mm': 'mm' is no unit for this; "
        "write a number from 2 to 24 clicks",
    ),
    "name that the setting does not have": (
        {"setup.front_tyre": "slick"},
        "season.csv:3 setup.front_tyre: 'slick' is none of its names; "
        "write one of sand and mud, soft, intermediate, hard",
    ),
    "place between two names": (
        {"setup.front_tyre": "2.5"},
        "season.csv:3 setup.front_tyre: '2.5' is none of its names; "
        "write one of sand and mud, soft, intermediate, hard",
    ),
    "setting that the machine does not have": (
        {"machine": "works-250", "setup.steering_damper": "10"},
        "season.csv:3 setup.steering_damper: works-250 has no steering_damper; "
        "leave the cell empty, or name another machine",
    ),
    "text for a number": (
        {"walk.ground.cone_index_kpa": "soft"},
        "season.csv:3 walk.ground.cone_index_kpa: 'soft' is no number; "
        "write a number from 5 to 9000 kPa (or psi, bar or inHg)",
    ),
    "not a number": (
        {"walk.ground.cone_index_kpa": "nan"},
        "season.csv:3 walk.ground.cone_index_kpa: 'nan' is no number; "
        "write a number from 5 to 9000 kPa (or psi, bar or inHg)",
    ),
    "infinite": (
        {"walk.ground.cone_index_kpa": "inf"},
        "season.csv:3 walk.ground.cone_index_kpa: 'inf' is no number; "
        "write a number from 5 to 9000 kPa (or psi, bar or inHg)",
    ),
    "impossible number": (
        {"walk.air.temperature_c": "200"},
        "season.csv:3 walk.air.temperature_c: '200' cannot be right; "
        "write a number from -25 to 55 °C (or °F)",
    ),
    "unknown word": (
        {"walk.ground.firmness": "dent"},
        "season.csv:3 walk.ground.firmness: 'dent' is not known here; did you mean dents? "
        "write one of sinks_deep, sinks, dents, marks, no_mark",
    ),
    "half a whoop": (
        {"walk.whoops.count": "7.5"},
        "season.csv:3 walk.whoops.count: '7.5' is no whole number; "
        "write a whole number from 0 to 60",
    ),
    "mark off the scale": (
        {"mark": "6"},
        "season.csv:3 mark: '6' cannot be right; write a whole number from 1 to 5",
    ),
    "lap that no watch shows": (
        {"best_lap_s": "1:75.2"},
        "season.csv:3 best_lap_s: '1:75.2': ':75.2' is no unit for this; "
        "write a number from 10 to 1800 s (or min, as in 1:52.3)",
    ),
    "date in another order": (
        {"date": "17.5.2026"},
        "season.csv:3 date: '17.5.2026' is no date; write year-month-day, as in 2026-05-17",
    ),
    "date with something behind it": (
        {"date": "2026-05-17x"},
        "season.csv:3 date: '2026-05-17x' is no date; write year-month-day, as in 2026-05-17",
    ),
    "date that is not in the calendar": (
        {"date": "2026-02-30"},
        "season.csv:3 date: '2026-02-30' is not in the calendar; "
        "write year-month-day, as in 2026-05-17",
    ),
    "no date": (
        {"date": ""},
        "season.csv:3 date: the cell is empty; it is needed; fill it in",
    ),
    "session twice": (
        {"session_id": "s1"},
        "season.csv:3 session_id: 's1' stands already in season.csv:2; give each session its own",
    ),
    "name that could write on the screen": (
        {"event": "a\x1b[2Jb"},
        "season.csv:3 event: the text holds a character that cannot be printed (U+001B); "
        "take it out",
    ),
    "name that has no end": (
        {"event": "x" * 500},
        f"season.csv:3 event: '{'x' * 43}...' is 500 characters long; write at most 120 characters",
    ),
}
