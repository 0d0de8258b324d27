"""The wishes of many walks fit as those of each walk alone."""

from __future__ import annotations

import numpy as np
import pytest

from setupadvisor.advice.bulk_fitting import fit_each, fit_walks, widen_each
from setupadvisor.advice.fitting import fit, fit_all, settable_range
from setupadvisor.advice.workshop import house_machine
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine

MACHINES = {
    name: load_entry(bundled("datasets", "machines", f"{name}.yaml"), Machine)
    for name in ("works-450", "works-250")
}


@pytest.mark.parametrize("name", house_machine().settings)
def test_a_wish_among_many_is_fitted_as_one_alone(name):
    """In and far outside the range, on steps, and exactly between two of them."""
    setting = house_machine().settings[name]
    random = np.random.default_rng(3)
    low, high = setting.lowest, setting.highest
    values = np.array(setting.values)
    wishes = np.concatenate(
        [
            random.uniform(low - 3.0 * (high - low), high + 3.0 * (high - low), 300),
            values,
            (values[1:] + values[:-1]) / 2.0,
        ]
    )
    assert fit_each(setting, wishes).tolist() == [fit(setting, wish) for wish in wishes.tolist()]


@pytest.mark.parametrize("name", house_machine().settings)
def test_ranges_of_many_walks_are_widened_as_that_of_one(name):
    setting = house_machine().settings[name]
    random = np.random.default_rng(5)
    span = setting.highest - setting.lowest
    low = random.uniform(setting.lowest - span, setting.highest + span, 200)
    high = low + random.exponential(span / 4.0, 200)
    low[:20] = high[:20] = random.choice(setting.values, 20)
    found = widen_each(setting, low, high)
    alone = [
        settable_range(setting, *ends) for ends in zip(low.tolist(), high.tolist(), strict=True)
    ]
    assert list(zip(found[0].tolist(), found[1].tolist(), strict=True)) == alone
    assert np.isnan(widen_each(setting, np.array([np.nan]), np.array([np.nan]))).all()


@pytest.mark.parametrize("machine", MACHINES.values(), ids=MACHINES)
def test_many_walks_get_the_drive_and_the_settings_of_each_alone(machine):
    random = np.random.default_rng(4)
    count = 150
    wishes = {
        name: setting.fixed_house
        + (setting.highest - setting.lowest) * random.normal(0.0, 0.3, count)
        for name, setting in machine.settings.items()
    }
    for name in ("front_sprocket", "rear_sprocket"):  # a wish for teeth is never below one
        if name in wishes:
            wishes[name] = np.maximum(wishes[name], 5.0)
    together = fit_walks(machine, wishes)
    for walk in range(count):
        alone, _ = fit_all(machine, {name: float(wish[walk]) for name, wish in wishes.items()})
        assert {name: float(value[walk]) for name, value in together.items()} == alone


def test_a_missing_wish_stays_missing():
    machine = house_machine()
    wishes = {name: np.array([np.nan, s.fixed_house]) for name, s in machine.settings.items()}
    fitted = fit_walks(machine, wishes)
    assert all(np.isnan(value[0]) and np.isfinite(value[1]) for value in fitted.values())
