"""The next change from what the logbook holds: remarks, changes tried, the record of the past."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from setupadvisor.advice.next_records import Record, Tried
from setupadvisor.entries.logbook.records import ChangeCount, ChangeEntry, RiderRemark
from setupadvisor.entries.machine import Machine
from setupadvisor.rulebook.remark_words import understand
from setupadvisor.rulebook.remarks import Remark


def remarks_of(
    said: Iterable[RiderRemark], remarks: Sequence[Remark]
) -> tuple[list[Remark], list[str]]:
    """Find the rule base's remarks in what a rider said.

    Parameters
    ----------
    said : iterable of RiderRemark
        As in the book: with ids where they were understood when written down.
    remarks : sequence of Remark
        The rule base's.

    Returns
    -------
    tuple of list of Remark and list of str
        Each remark once, and what was not understood.
    """
    by_id = {remark.id: remark for remark in remarks}
    found: dict[str, Remark] = {}
    unclear: dict[str, None] = {}
    for one in said:
        known = [by_id[name] for name in one.remarks if name in by_id]
        if not known:
            understood = understand(one.text, remarks)
            known = [match.remark for match in understood.matched]
            unclear |= dict.fromkeys(
                [*(clause for clause, _ in understood.ambiguous), *understood.not_understood]
            )
        found |= {remark.id: remark for remark in known}
    return list(found.values()), list(unclear)


def tried_of(changes: Iterable[ChangeEntry], machine: Machine) -> tuple[Tried, ...]:
    """Take the changes of a day as what was tried.

    Parameters
    ----------
    changes : iterable of ChangeEntry
        In the order in which they were made.
    machine : Machine
        Changes of settings that it lacks are left out.

    Returns
    -------
    tuple of Tried
        In the same order.
    """
    return tuple(
        Tried(change.setting, change.start, change.to, change.verdict, change.remark)
        for change in changes
        if change.setting in machine.settings
    )


def records_of(
    counts: Iterable[ChangeCount], machine: Machine, remarks: Sequence[Remark]
) -> tuple[Record, ...]:
    """Take the book's counts of changes as records of the past.

    Parameters
    ----------
    counts : iterable of ChangeCount
        Of all machines.
    machine : Machine
        Only its own counts are used.
    remarks : sequence of Remark
        The rule base's; counts of changes that were for none of them are left out.

    Returns
    -------
    tuple of Record
        By setting, direction and complaint.
    """
    by_id = {remark.id: remark for remark in remarks}
    found = []
    for count in counts:
        setting, remark = machine.settings.get(count.setting), by_id.get(count.remark)
        if count.machine == machine.name and setting is not None and remark is not None:
            direction = setting.up if count.rises else setting.down
            found.append(
                Record(
                    setting=count.setting,
                    direction=direction,
                    behaviour=remark.what,
                    end=remark.end,
                    better=count.better,
                    same=count.same,
                    worse=count.worse,
                )
            )
    return tuple(found)
