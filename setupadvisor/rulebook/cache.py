"""Loading a rule base quickly: kept ready in the user's cache folder, and never stale.

What is kept is filed under a digest over everything it follows from: the rule files' names and
texts, the facts' and settings' words, and the code that reads them. The texts are read and hashed
on every load, so a file that changed, were it by one letter and within the same second, is another
digest. What is kept is data with a checksum; anything unexpected is passed over and written anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pydantic
import yaml

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.cached_form import from_plain, to_plain
from setupadvisor.rulebook.compiled import Compiled, compile_degrees
from setupadvisor.rulebook.loading import build_rulebase, without_garbage_collection
from setupadvisor.rulebook.rule_files import RuleFile, read_rule_files
from setupadvisor.rulebook.rulebase import RuleBase
from setupadvisor.rulebook.settings import SettingWords

VARIABLE = "SETUPADVISOR_CACHE"
OFF = "off"
MOST_KEPT = 20
LARGEST_KEPT_BYTES = 100_000_000

_TITLE = "setupadvisor rules"
_ENDING = ".rules"
_UNFINISHED = ".unfinished"
_UNFINISHED_FOR_S = 3600.0
# The code that the meaning of a rule file stands on.
_READERS = ("rulebook/*.py", "entries/*.py", "facts/fact.py", "errors.py")


def load_compiled(
    folders: Sequence[Path],
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
    fact_names: tuple[str, ...],
) -> tuple[RuleBase, Compiled]:
    """Load the rules of all folders and compile them, or take both from the cache.

    Parameters
    ----------
    folders : sequence of pathlib.Path
        Rule folders, see `load_rulebase`.
    facts : mapping of str to Fact
        The facts there are.
    settings : mapping of str to SettingWords
        The settings there are.
    fact_names : tuple of str
        The facts, in the order of the rows to be given to `degrees`.

    Returns
    -------
    tuple of RuleBase and Compiled
        The same as without a cache.

    Raises
    ------
    InputError
        With every mistake of every file.
    SetupAdvisorError
        If a rule reads a fact that is not among `fact_names`.
    """
    files, mistakes = read_rule_files(folders)
    folder = None if mistakes else cache_folder()
    key = None if folder is None else _key(files, facts, settings, fact_names)
    if folder is not None and key is not None:
        kept = _read(folder, key)
        if kept is not None:
            return kept
    rulebase = build_rulebase(files, mistakes, facts, settings)
    compiled = compile_degrees(rulebase, fact_names)
    if folder is not None and key is not None:
        _write(folder, key, rulebase, compiled)
    return rulebase, compiled


def cache_folder() -> Path | None:
    """Say where loaded rules are kept.

    Returns
    -------
    pathlib.Path or None
        The folder that the environment variable ``SETUPADVISOR_CACHE`` names, else
        ``setupadvisor`` in the user's cache folder; None where it is set to ``off`` or there is no
        such folder.

    References
    ----------
    XDG Base Directory Specification: ``XDG_CACHE_HOME``, by default ``~/.cache``; a path that is
    not absolute is ignored.
    """
    named = os.environ.get(VARIABLE, "").strip()
    if named:
        return None if named.lower() == OFF else Path(named).expanduser()
    base = os.environ.get("XDG_CACHE_HOME", "")
    try:
        if base and Path(base).is_absolute():
            return Path(base) / "setupadvisor"
        return _platform_folder(sys.platform) / "setupadvisor"
    except RuntimeError:
        # There is no home.
        return None


def _platform_folder(platform: str) -> Path:
    if platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path.home() / ".cache"


def _key(
    files: Sequence[RuleFile],
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
    fact_names: tuple[str, ...],
) -> str | None:
    """Give the digest over all that a loaded rule base follows from; None if it cannot be known."""
    code = _code_digest()
    if code is None:
        return None
    words = [
        (name, fact.name, fact.unit, fact.low, fact.high, fact.choices, fact.inputs)
        for name, fact in facts.items()
    ]
    total = hashlib.sha256()
    for part in (code, repr(words), repr(list(settings.items())), repr(fact_names)):
        _add(total, part)
    for file in files:
        # The folder and the path stand in every message about a rule.
        for part in (str(file.place), file.folder, file.path, file.name, file.text):
            _add(total, part)
    return total.hexdigest()


def _add(total: hashlib._Hash, part: str | bytes) -> None:
    content = part if isinstance(part, bytes) else part.encode("utf-8", "surrogatepass")
    total.update(b"%d:" % len(content))
    total.update(content)


@cache
def _code_digest() -> str | None:
    package = Path(__file__).resolve().parent.parent
    total = hashlib.sha256()
    for version in (sys.version, np.__version__, pydantic.VERSION, yaml.__version__):
        _add(total, version)
    try:
        paths = sorted(path for reader in _READERS for path in package.glob(reader))
        for path in paths:
            _add(total, path.relative_to(package).as_posix())
            _add(total, path.read_bytes())
    except OSError:
        return None
    return total.hexdigest() if paths else None


def _read(folder: Path, key: str) -> tuple[RuleBase, Compiled] | None:
    try:
        with (folder / (key + _ENDING)).open("rb") as file:
            about = os.fstat(file.fileno())
            if about.st_size > LARGEST_KEPT_BYTES or _of_somebody_else(about):
                return None
            first, content = file.readline(1000), file.read(LARGEST_KEPT_BYTES)
        if first != _first_line(key, content):
            return None
        with without_garbage_collection():
            return from_plain(json.loads(content))
    except (OSError, ValueError, TypeError, LookupError, RecursionError):
        return None


def _of_somebody_else(about: os.stat_result) -> bool:
    return hasattr(os, "getuid") and about.st_uid != os.getuid()


def _first_line(key: str, content: bytes) -> bytes:
    return f"{_TITLE} {key} {hashlib.sha256(content).hexdigest()}\n".encode()


def _write(folder: Path, key: str, rulebase: RuleBase, compiled: Compiled) -> None:
    """Keep a rule base; where that is not possible, go on without."""
    plain = to_plain(rulebase, compiled)
    content = json.dumps(plain, separators=(",", ":"), allow_nan=False).encode()
    if len(content) > LARGEST_KEPT_BYTES:
        return
    unfinished = None
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Written beside its place and moved there: a reader sees all of it or nothing, and of two
        # writers the later one wins, with the same content.
        handle, unfinished = tempfile.mkstemp(_UNFINISHED, key[:16], folder)
        with os.fdopen(handle, "wb") as file:
            file.write(_first_line(key, content))
            file.write(content)
        Path(unfinished).replace(folder / (key + _ENDING))
    except OSError:
        if unfinished is not None:
            with contextlib.suppress(OSError):
                Path(unfinished).unlink(missing_ok=True)
        return
    _tidy(folder)


def _tidy(folder: Path) -> None:
    """Let go of what was written longest ago, and of what was never finished."""
    with contextlib.suppress(OSError):
        kept = sorted(
            ((path.stat().st_mtime, path) for path in folder.glob(f"*{_ENDING}")), reverse=True
        )
        begun = [(path.stat().st_mtime, path) for path in folder.glob(f"*{_UNFINISHED}")]
        gone = [path for _, path in kept[MOST_KEPT:]]
        gone += [path for at, path in begun if at < time.time() - _UNFINISHED_FOR_S]
        for path in gone:
            path.unlink(missing_ok=True)
