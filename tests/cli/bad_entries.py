"""Broken walks, riders, setups and machines, each with what a person must be told."""

from __future__ import annotations

from dataclasses import dataclass

HEAD = "event: x\ndate: 2026-05-17\n"


@dataclass(frozen=True)
class Broken:
    """A file, and for each of its mistakes where it stands, what was found, and the mend."""

    text: str | bytes
    said: tuple[tuple[str, str, str], ...]


def walk(text: str, *said: tuple[str, str, str]) -> Broken:
    """A walk whose first two lines are sound."""
    return Broken(HEAD + text, said)


WALKS = {
    "unknown key": walk(
        "air:\n  temprature: 21\n", (":4 air.temprature", "the key is unknown", "temperature?")
    ),
    "unknown key without a neighbour": walk(
        "moon: full\n", (":3 moon", "the key is unknown", "known here: event, date")
    ),
    "duplicate key": walk("kind: sand\nkind: outdoor\n", (":4 kind", "stands twice", "keep one")),
    "duplicate key, deep": walk(
        "air:\n  wind: calm\n  rain: none\n  wind: strong\n",
        (":6 air.wind", "stands twice (first on line 4)", "keep one"),
    ),
    "wrong unit": walk(
        "air: {pressure: 21 °C}\n", (":3 air.pressure", "'°C' is no unit for this", "kPa")
    ),
    "unknown unit": walk(
        "lap: {length: 3 parsnips}\n", (":3 lap.length", "'parsnips' is no unit", "from 100 to")
    ),
    "impossible number": walk(
        "air: {humidity: 120}\n", (":3 air.humidity", "120 % cannot be", "from 0 to 100 %")
    ),
    "impossible number with a unit": walk(
        "air: {temperature: -500 F}\n", (":3 air.temperature", "'-500 F'", "-25 to 55")
    ),
    "not a number": walk(
        "air: {temperature: .nan}\n", (":3 air.temperature", "'.nan'", "from -25 to 55")
    ),
    "infinite": walk("lap: {time: 1e999}\n", (":3 lap.time", "cannot be", "from 15 to 1200")),
    "half a corner": walk(
        "corners: {flat: 2.5}\n", (":3 corners.flat", "no whole number", "a whole number")
    ),
    "word for a number": walk(
        "air: {temperature: warm}\n", (":3 air.temperature", "'warm' is no number", "from -25")
    ),
    "list for a number": walk(
        "air: {temperature: [1, 2]}\n", (":3 air.temperature", "a list is no number", "from -25")
    ),
    "true for a number": walk(
        "air: {temperature: true}\n", (":3 air.temperature", "true is no number", "from -25")
    ),
    "number for a word": walk(
        "kind: 3\n", (":3 kind", "3 is not known here", "stadium, outdoor, sand")
    ),
    "unknown word": walk(
        "ground: {firmness: dent}\n", (":3 ground.firmness", "'dent'", "did you mean dents?")
    ),
    "number for a group": walk("ground: 5\n", (":3 ground", "5 does not fit", "keys below it")),
    "list for a group": walk("air: [1]\n", (":3 air", "a list does not fit", "keys below it")),
    "group for a list": walk(
        "jumps: {gap: 3}\n", (":3 jumps", "a group of keys does not fit", "a list")
    ),
    "wrong inside a list": walk(
        "jumps:\n  - {gap: 9}\n  - {gap: 900}\n", (":5 jumps.2.gap", "900 m cannot be", "0 to 50")
    ),
    "no date": Broken("event: x\ndate: 31.12.2026\n", ((":2 date", "'31.12.2026'", "2026-05-17"),)),
    "keys missing": Broken(
        "kind: sand\n",
        ((":1 event", "the key is missing", "add it"), (":1 date", "the key is missing", "add it")),
    ),
    "all at once": walk(
        "kind: beach\nair:\n  humidity: 120\n  wnd: calm\nlap: {time: fast}\n",
        (":3 kind", "'beach'", "stadium, outdoor, sand"),
        (":5 air.humidity", "120 %", "from 0 to 100"),
        (":6 air.wnd", "the key is unknown", "did you mean wind?"),
        (":7 lap.time", "'fast'", "from 15 to 1200"),
    ),
    "soil of more than a hundred": walk(
        "ground: {sand: 80, silt: 30, clay: 20}\n", (":3 ground", "add up to 130 %", "100 %")
    ),
    "faster than the straight": walk(
        "lap: {length: 2000, time: 30, top_speed: 90}\n", (":3 lap.time", "240 km/h", "mend")
    ),
    "empty": Broken("", (("", "the file is empty", "event and date"),)),
    "only a comment": Broken("# later\n", (("", "the file is empty", "event and date"),)),
    "a list": Broken("- event: x\n", (("", "holds no keys", "event and date"),)),
    "truncated quotes": walk("venue: 'Quarry\n", (":3", "YAML", "quotes")),
    "truncated bracket": walk("jumps: [{gap: 3}, {gap\n", (":", "YAML", "bracket")),
    "truncated key": Broken("event: x\ndate\n", ((":", "YAML", ""),)),
    "tab": walk("air:\n\twind: calm\n", (":4", "YAML", "")),
    "two documents": walk("---\nevent: y\n", (":3", "second document", "one document")),
    "not UTF-8": Broken(b"event: caf\xe9\ndate: 2026-05-17\n", ((":1", "not UTF-8", "UTF-8"),)),
    "UTF-16": Broken("event: x\n".encode("utf-16"), (("", "UTF-16", "UTF-8"),)),
    "NUL": Broken(b"event: x\x00y\n", (("", "cannot", ""),)),
    "alias": walk("venue: &v here\nnote: *v\n", (":3 venue", "an anchor or alias", "write")),
    "anchors made to explode": walk(
        "a: &a [x, x, x, x, x, x, x, x, x]\n"
        + "".join(
            f"{name}: &{name} [{', '.join([f'*{before}'] * 9)}]\n"
            for before, name in zip("abcdefgh", "bcdefghi", strict=True)
        ),
        (":3 a", "an anchor or alias", "write the value out"),
    ),
    "an alias to itself": walk("a: &a [*a]\n", (":3 a", "an anchor or alias", "write")),
    "merge key": walk("air: &a {wind: calm}\nlap: {<<: *a}\n", (":3 air", "an anchor", "write")),
    "a tag": walk(
        "note: !!python/object/apply:os.system ['true']\n", (":3 note", "a tag", "plain value")
    ),
    "nested without end": walk(f"note: {'[' * 500}{']' * 500}\n", (":3 note", "levels", "nest")),
}

RIDERS = {
    "unknown key": Broken("name: y\nmas: 80 kg\n", ((":2 mas", "unknown", "did you mean mass?"),)),
    "wrong unit": Broken("name: y\nmass: 80 cm\n", ((":2 mass", "'cm' is no unit", "20 to 180"),)),
    "impossible": Broken("name: y\nmass: 8 kg\n", ((":2 mass", "'8 kg' cannot", "20 to 180"),)),
    "unknown word": Broken("name: y\nskill: expret\n", ((":2 skill", "'expret'", "expert?"),)),
    "no name": Broken("mass: 80 kg\n", ((":1 name", "the key is missing", "add it"),)),
}

SETUPS = {
    "unknown setting": Broken(
        "settings:\n  fork_hieght: 5\n", ((":2 settings.fork_hieght", "no setting", "fork_height"),)
    ),
    "out of range": Broken(
        "settings:\n  fork_height: 50\n", ((":2 settings.fork_height", "50 mm cannot", "0 to 12"),)
    ),
    "unknown name": Broken(
        "settings:\n  engine_map: brutal\n", ((":2 settings.engine_map", "'brutal'", "mild"),)
    ),
    "wrong unit": Broken(
        "settings:\n  fork_height: 5 kPa\n", ((":2 settings.fork_height", "'kPa'", "0 to 12 mm"),)
    ),
    "twice": Broken(
        "settings:\n  fork_height: 5\n  fork_height: 6\n",
        ((":3 settings.fork_height", "stands twice", "keep one"),),
    ),
    "nothing": Broken("settings: {}\n", ((":1 settings", "", "at least"),)),
    "another machine": Broken(
        "machine: other\nsettings: {fork_height: 5}\n",
        ((":1 machine", "the setup is of 'other'", "--machine"),),
    ),
}
