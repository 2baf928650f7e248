"""
Newton step for the free ligands and the hydrogen ion.

The matrix is that of a convex function of the logarithms of the unknowns, with the central ions
eliminated, so it is symmetric and positive.
"""

import numpy as np
import numpy.typing as npt

from service.chemistry.equilibrium_constants import CARBONATE_LIGAND, CENTRAL_COUNT, LIGAND_COUNT
from service.chemistry.kernel import kernel
from service.chemistry.workspace import (
    CENTRAL_PROTON,
    CENTRAL_SQUARE,
    HYDROGEN_UNKNOWN,
    LIGAND_PROTON,
    LIGAND_SQUARE,
    LIGAND_SUM,
    MATRIX,
    PAIR,
    RESIDUAL,
    TOTAL,
    UNKNOWN_COUNT,
)

FloatArray = npt.NDArray[np.float64]


@kernel
def fill_matrix(ws: FloatArray, fixed_ph: bool, open_to_gas: bool) -> None:
    """
    Set the symmetric Newton matrix after the central ions are eliminated.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    fixed_ph : bool
        True where the pH is held.
    open_to_gas : bool
        True where carbonate follows from a gas.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    for row in range(LIGAND_COUNT):
        for column in range(row):
            ws[MATRIX + row * UNKNOWN_COUNT + column] = 0.0
        ws[MATRIX + row * UNKNOWN_COUNT + row] = ws[LIGAND_SUM + row]
        ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + row] = ws[LIGAND_PROTON + row]
    corner = ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + HYDROGEN_UNKNOWN]
    if open_to_gas:
        carbon = ws[LIGAND_SUM + CARBONATE_LIGAND]
        corner += 4.0 * (carbon - ws[LIGAND_PROTON + CARBONATE_LIGAND])
        for place in range(CENTRAL_COUNT):
            ws[CENTRAL_PROTON + place] -= 2.0 * ws[PAIR + place * UNKNOWN_COUNT + CARBONATE_LIGAND]
            ws[PAIR + place * UNKNOWN_COUNT + CARBONATE_LIGAND] = 0.0
        ws[MATRIX + CARBONATE_LIGAND * UNKNOWN_COUNT + CARBONATE_LIGAND] = 0.0
        ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + CARBONATE_LIGAND] = 0.0
    for place in range(CENTRAL_COUNT):
        total = ws[TOTAL + place]
        if total <= 0.0:
            continue
        protons = ws[CENTRAL_PROTON + place] / total
        corner -= protons * ws[CENTRAL_PROTON + place]
        for row in range(LIGAND_COUNT):
            share = ws[PAIR + place * UNKNOWN_COUNT + row] / total
            if share == 0.0:
                continue
            ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + row] -= (
                share * ws[CENTRAL_PROTON + place]
            )
            for column in range(row + 1):
                ws[MATRIX + row * UNKNOWN_COUNT + column] -= (
                    share * ws[PAIR + place * UNKNOWN_COUNT + column]
                )
    ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + HYDROGEN_UNKNOWN] = corner
    if fixed_ph:
        for column in range(LIGAND_COUNT):
            ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + column] = 0.0
        ws[MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT + HYDROGEN_UNKNOWN] = 1.0
    for row in range(UNKNOWN_COUNT):
        if ws[MATRIX + row * UNKNOWN_COUNT + row] <= 0.0:
            ws[MATRIX + row * UNKNOWN_COUNT + row] = 1.0
            ws[RESIDUAL + row] = 0.0


@kernel
def solve_matrix(ws: FloatArray) -> None:
    """
    Replace the residual by the Newton step, by Cholesky factors without roots.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    for row in range(UNKNOWN_COUNT):
        pivot = ws[MATRIX + row * UNKNOWN_COUNT + row]
        for middle in range(row):
            factor = ws[MATRIX + row * UNKNOWN_COUNT + middle]
            if factor == 0.0:
                continue
            scaled = factor / ws[MATRIX + middle * UNKNOWN_COUNT + middle]
            pivot -= factor * scaled
            for lower in range(row + 1, UNKNOWN_COUNT):
                ws[MATRIX + lower * UNKNOWN_COUNT + row] -= (
                    scaled * ws[MATRIX + lower * UNKNOWN_COUNT + middle]
                )
            ws[RESIDUAL + row] -= scaled * ws[RESIDUAL + middle]
        smallest = 1e-14 * ws[MATRIX + row * UNKNOWN_COUNT + row]
        ws[MATRIX + row * UNKNOWN_COUNT + row] = max(pivot, smallest)
    for row in range(UNKNOWN_COUNT - 1, -1, -1):
        value = ws[RESIDUAL + row]
        for lower in range(row + 1, UNKNOWN_COUNT):
            value -= ws[MATRIX + lower * UNKNOWN_COUNT + row] * ws[RESIDUAL + lower]
        ws[RESIDUAL + row] = value / ws[MATRIX + row * UNKNOWN_COUNT + row]


@kernel
def ionic_strength_after_step(ws: FloatArray, fixed_square: float) -> float:
    """
    Return the ionic strength after the Newton step, to first order.

    It spares half of the iterations, because the activity coefficients do not lag.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace [mol/kg].
    fixed_square : float
        Sum of squared charge times molality of the ions that never react [mol/kg].

    Returns
    -------
    float
        Ionic strength [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    square: float = (
        fixed_square + ws[LIGAND_SQUARE + UNKNOWN_COUNT] * ws[RESIDUAL + HYDROGEN_UNKNOWN]
    )
    for row in range(LIGAND_COUNT):
        square += ws[LIGAND_SQUARE + row] * ws[RESIDUAL + row]
    for place in range(CENTRAL_COUNT + 1):
        square += ws[CENTRAL_SQUARE + place]
    for place in range(CENTRAL_COUNT):
        if ws[TOTAL + place] <= 0.0:
            continue
        change = ws[CENTRAL_PROTON + place] * ws[RESIDUAL + HYDROGEN_UNKNOWN]
        for row in range(LIGAND_COUNT):
            change += ws[PAIR + place * UNKNOWN_COUNT + row] * ws[RESIDUAL + row]
        square -= ws[CENTRAL_SQUARE + place] * change / ws[TOTAL + place]
    return 0.5 * square
