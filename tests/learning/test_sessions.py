from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from setupadvisor.errors import InputError
from setupadvisor.learning.simulate import simulate_season


@pytest.mark.parametrize(
    ("name", "value", "found"),
    [
        ("house", np.zeros((5, 8)), r"sessions\.house.*shape \(5, 8\)"),
        ("rider", np.full(27, 3), r"sessions\.rider.*no name"),
        ("venue", np.full(27, -2), r"sessions\.venue.*no name"),
        ("degrees", np.full((27, 32), 1.2), "degree outside 0 to 1"),
        ("mark", np.full(27, 6.0), "mark outside 1 to 5"),
        ("day", np.full(27, np.nan), "without a day"),
    ],
)
def test_impossible_sessions_are_refused(name, value, found):
    with pytest.raises(InputError, match=found):
        replace(simulate_season(3).sessions, **{name: value})


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("amounts", np.full((32, 8), np.nan)),
        ("relative_spread", np.zeros(32)),
        ("step", np.zeros(8)),
        ("field_range", np.full(12, -1.0)),
        ("reads", np.zeros((8, 3))),
    ],
)
def test_impossible_knowledge_is_refused(name, value):
    with pytest.raises(InputError, match=rf"knowledge\.{name}"):
        replace(simulate_season(3).knowledge, **{name: value})


def test_taking_rows_keeps_names_and_codes():
    sessions = simulate_season(3).sessions
    some = sessions.taken(np.array([4, 2]))
    assert len(some) == 2
    assert some.rider_name == sessions.rider_name
    assert np.array_equal(some.values, sessions.values[[4, 2]])
    assert some.event.tolist() == sessions.event[[4, 2]].tolist()


def test_predicting_loads_neither_scipy_nor_scikit_learn_nor_pandas():
    code = (
        "import sys\n"
        "from setupadvisor.learning import model_file, prediction, training\n"
        "from setupadvisor.learning.simulate import simulate_season\n"
        "one = simulate_season(4)\n"
        "model = training.train(one.sessions, one.knowledge)\n"
        "s = one.sessions\n"
        "prediction.predict(model, s.degrees, s.house, rider=s.rider, fields=s.fields,\n"
        "                   venue=s.venue, day=s.day)\n"
        "heavy = {'scipy', 'sklearn', 'pandas', 'joblib', 'matplotlib', 'pint'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
