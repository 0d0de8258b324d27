"""What the review of a rule base finds: not wrong, but seldom meant."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["serious", "worth a look"]
SEVERITIES: tuple[Severity, ...] = ("serious", "worth a look")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing in a rule base that is seldom meant.

    Parameters
    ----------
    kind : str
        What sort of thing, in a word or two: ``"never speaks"``.
    severity : str
        ``"serious"`` where advice suffers, ``"worth a look"`` where a reader may stumble.
    where : str
        File, line and the key's path.
    found : str
        What stands there.
    mend : str
        What to do about it.

    Examples
    --------
    >>> print(Finding("idle", "worth a look", "a.yaml:3 rules.x", "it does nothing", "take it out"))
    a.yaml:3 rules.x: worth a look: it does nothing; take it out
    """

    kind: str
    severity: Severity
    where: str
    found: str
    mend: str

    def __str__(self) -> str:
        return f"{self.where}: {self.severity}: {self.found}; {self.mend}"


def by_severity(findings: Iterable[Finding]) -> list[Finding]:
    """Put serious findings first, and keep the order otherwise.

    Parameters
    ----------
    findings : iterable of Finding
        Findings.

    Returns
    -------
    list of Finding
        The same.
    """
    return sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity))
