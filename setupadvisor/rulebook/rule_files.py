"""Finding and reading the files of rule folders, in bounded time and memory."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from setupadvisor.entries.yaml_file import read_text
from setupadvisor.errors import InputError, Mistake

LARGEST_RULE_FILE_BYTES = 2_000_000
LARGEST_RULE_BASE_BYTES = 20_000_000
MOST_RULE_FILES = 1000


@dataclass(frozen=True, slots=True)
class RuleFile:
    """The text of one rule file.

    Parameters
    ----------
    place : int
        Which of the given folders it comes from, from 0.
    folder : str
        That folder, as it was given.
    path : str
        The file, as a message names it.
    name : str
        The file's path inside the folder.
    text : str
        All of it.
    """

    place: int
    folder: str
    path: str
    name: str
    text: str


def read_rule_files(folders: Sequence[Path]) -> tuple[list[RuleFile], list[Mistake]]:
    """Read every YAML file below the given folders.

    Parameters
    ----------
    folders : sequence of pathlib.Path
        Rule folders, or single rule files; later ones add to and override earlier ones.

    Returns
    -------
    tuple of list of RuleFile and list of Mistake
        The files by folder and name, and what could not be read.
    """
    files: list[RuleFile] = []
    mistakes: list[Mistake] = []
    total_bytes = 0
    for place, folder in enumerate(folders):
        paths, mistake = _yaml_files(Path(folder))
        mistakes.extend(mistake)
        for path in paths:
            try:
                text = read_text(path, LARGEST_RULE_FILE_BYTES)
            except InputError as error:
                mistakes.extend(error.mistakes)
                continue
            total_bytes += len(text)
            if total_bytes > LARGEST_RULE_BASE_BYTES:
                found = f"the rule files hold more than {LARGEST_RULE_BASE_BYTES / 1e6:g} MB"
                mistakes.append(Mistake(str(folder), found, "is it the right folder?"))
                return files, mistakes
            name = path.name if path == Path(folder) else path.relative_to(folder).as_posix()
            files.append(RuleFile(place, str(folder), str(path), name, text))
    return files, mistakes


def _yaml_files(folder: Path) -> tuple[list[Path], list[Mistake]]:
    if folder.is_file():
        return [folder], []
    if not folder.is_dir():
        return [], [Mistake(str(folder), "there is no such folder", "check the path")]
    found = sorted(path for path in folder.rglob("*") if path.suffix in {".yaml", ".yml"})
    if not found:
        return [], [Mistake(str(folder), "there is no rule file in it", "name a folder of rules")]
    if len(found) > MOST_RULE_FILES:
        mend = f"at most {MOST_RULE_FILES} can be read; is it the right folder?"
        return [], [Mistake(str(folder), f"{len(found)} YAML files stand in it", mend)]
    return found, []


def digest_of(files: Iterable[RuleFile]) -> str:
    """Give the digest of rule files: equal only for equal names and texts in equal order.

    Parameters
    ----------
    files : iterable of RuleFile
        The files.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits.
    """
    total = hashlib.sha256()
    for file in files:
        for part in (str(file.place), file.name, file.text):
            content = part.encode()
            total.update(f"{len(content)}:".encode())
            total.update(content)
    return total.hexdigest()
