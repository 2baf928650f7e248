"""Laws that the solubility of salts keeps, whatever the mixture."""

import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.chemistry.concentrate_solids import COMPOSITIONS, SOLID_NAMES
from service.planning.concentrate import highest_multiple, solid_states
from service.planning.solid_margins import margin_of

RISING = ("potassium_nitrate", "monopotassium_phosphate", "potassium_sulfate", "ammonium_chloride")
SALTS = (*RISING, "magnesium_sulfate_heptahydrate", "calcium_nitrate_tetrahydrate", "urea")


def composition(**amounts):
    return sum(amount * COMPOSITIONS[SOLID_NAMES.index(name)] for name, amount in amounts.items())


mixtures = st.dictionaries(
    st.sampled_from([*SALTS, "monoammonium_phosphate", "ammonium_sulfate"]),
    st.floats(0.05, 1.0),
    min_size=2,
    max_size=4,
).map(lambda amounts: composition(**amounts))


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(RISING), st.floats(0, 39), st.floats(0.5, 10))
def test_colder_is_never_clearer_for_salts_that_dissolve_better_in_the_warm(salt, celsius, step):
    own = composition(**{salt: 1.0})
    warm = highest_multiple(own, min(celsius + step, 40.0)).multiple
    assert highest_multiple(own, celsius).multiple <= warm


@settings(max_examples=20, deadline=None)
@given(mixtures, st.floats(0, 39.5))
def test_a_little_warmer_changes_a_little(mixture, celsius):
    here = highest_multiple(mixture, celsius)
    there = highest_multiple(mixture, celsius + 0.05)
    assert there.multiple == pytest.approx(here.multiple, rel=0.02)


@settings(max_examples=25, deadline=None)
@given(mixtures, st.floats(0, 40))
def test_the_safe_multiple_is_clear_of_every_solid_by_its_margin(mixture, celsius):
    limit = highest_multiple(mixture, celsius)
    assert limit.safe_multiple <= limit.multiple
    if not np.isfinite(limit.safe_multiple):
        return
    for state in solid_states(0.999 * limit.safe_multiple * mixture, celsius):
        assert state.saturation_index + state.margin < 1e-6


@settings(max_examples=20, deadline=None)
@given(st.floats(0.1, 2.5), st.floats(0.1, 1.0), st.floats(0, 40))
def test_more_of_a_common_ion_lets_less_dissolve(background, more, celsius):
    salt = composition(monopotassium_phosphate=1.0)

    def beside(amount):
        return highest_multiple(salt, celsius, composition(potassium_nitrate=amount)).multiple

    assert beside(background + more) <= beside(background) + 1e-9


@given(mixtures)
def test_margins_follow_proportions_alone(mixture):
    for solid in range(len(SOLID_NAMES)):
        assert margin_of(solid, mixture) == margin_of(solid, 3.0 * mixture)


def test_interpreted_and_compiled_agree():
    code = (
        "from tests.properties.test_salt_solubility_laws import *\n"
        "m = composition(potassium_nitrate=0.4, monopotassium_phosphate=0.2, urea=0.3)\n"
        "print(*[f'{s.saturation_index:.12g}' for s in solid_states(m, 12.0)])"
    )
    found = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "NUMBA_DISABLE_JIT": plain, "PYTHONPATH": os.getcwd()},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
        for plain in ("0", "1")
    ]
    assert [float(x) for x in found[0]] == pytest.approx([float(x) for x in found[1]], rel=1e-9)
