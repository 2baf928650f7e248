"""The solver of recipes keeps to itself: what it prints would stand in the log of the service."""

import ctypes

import numpy as np

from service.planning.recipe_programme import solved


def programme_that_needs_repair():
    """Return a programme of yes-or-no items whose simplified answer the solver repairs aloud."""
    random = np.random.default_rng(92)
    items, targets = 8, 6
    brings = random.random((targets, items)) * (random.random((targets, items)) < 0.4) * 100.0
    least, most = random.uniform(0.01, 0.3, items), random.uniform(1.0, 50.0, items)
    width = 2 * items + 2 * targets
    tangents = [0.0, *(sign * 0.001 * 3.0**k for k in range(16) for sign in (-1, 1))]
    rows, room = [], []
    for target in range(targets):
        for point in tangents:
            row = np.zeros(width)
            row[items + target], row[items + targets + target] = 2.0 * point, -1.0
            rows.append(row)
            room.append(point**2)
    for item in range(items):
        for sign, bound in ((1.0, -most[item]), (-1.0, least[item])):
            row = np.zeros(width)
            row[item], row[items + 2 * targets + item] = sign, bound
            rows.append(row)
            room.append(0.0)
    rows.append(np.append(np.zeros(width - items), np.ones(items)))
    room.append(3.0)
    equal = np.hstack([brings, -np.eye(targets), np.zeros((targets, targets + items))])
    cost = np.zeros(width)
    cost[items + targets : items + 2 * targets] = 1.0
    return {
        "cost": cost,
        "rows": np.array(rows),
        "room": np.array(room),
        "low": np.concatenate(
            [np.zeros(items), np.full(targets, -np.inf), np.zeros(targets + items)]
        ),
        "high": np.concatenate([most, np.full(2 * targets, np.inf), np.ones(items)]),
        "equal": equal,
        "equal_to": np.full(targets, 100.0),
        "whole": np.arange(width) >= width - items,
    }


def test_solver_prints_nothing(capfd):
    assert solved(**programme_that_needs_repair()) is not None
    ctypes.CDLL(None).fflush(None)
    assert capfd.readouterr() == ("", "")
