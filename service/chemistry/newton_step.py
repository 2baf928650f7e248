"""
Newton step for the free ligands, the hydrogen ion, the ionic strength and an amount of reagent.

The matrix is that of a convex function of the logarithms of ligands and hydrogen ion, with the
central ions eliminated, so it is symmetric and positive. Ionic strength and the amount of a reagent
stand beside it as two more columns and two more equations.
"""

import math

import numpy as np
import numpy.typing as npt

from service.chemistry.equilibrium_constants import CARBONATE_LIGAND, CENTRAL_COUNT, LIGAND_COUNT
from service.chemistry.kernel import kernel
from service.chemistry.workspace import (
    AMOUNT_COLUMN,
    CENTRAL_PROTON,
    CENTRAL_SQUARE,
    CHARGE_ROW,
    HYDROGEN_UNKNOWN,
    INVERSE_PIVOT,
    LIGAND_PROTON,
    LIGAND_SQUARE,
    LIGAND_SUM,
    MATRIX,
    PAIR,
    REAGENT,
    RESIDUAL,
    STRENGTH_COLUMN,
    STRENGTH_ROW,
    TOTAL,
    UNKNOWN_COUNT,
)

FloatArray = npt.NDArray[np.float64]

_HYDROGEN_ROW = MATRIX + HYDROGEN_UNKNOWN * UNKNOWN_COUNT


@kernel
def fill_matrix(ws: FloatArray, fixed_ph: bool, open_to_gas: bool) -> None:
    """
    Set the symmetric Newton matrix after the central ions are eliminated.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace; its `STRENGTH_ROW` and `CHARGE_ROW` receive how squared and plain charges change
        with the unknowns [mol/kg].
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
        ws[_HYDROGEN_ROW + row] = ws[LIGAND_PROTON + row]
        ws[STRENGTH_ROW + row] = ws[LIGAND_SQUARE + row]
    corner = ws[_HYDROGEN_ROW + HYDROGEN_UNKNOWN]
    square = ws[STRENGTH_ROW + HYDROGEN_UNKNOWN]
    if open_to_gas:
        carbon = ws[LIGAND_SUM + CARBONATE_LIGAND]
        corner += 4.0 * (carbon - ws[LIGAND_PROTON + CARBONATE_LIGAND])
        square -= 2.0 * ws[LIGAND_SQUARE + CARBONATE_LIGAND]
        for place in range(CENTRAL_COUNT):
            ws[CENTRAL_PROTON + place] -= 2.0 * ws[PAIR + place * UNKNOWN_COUNT + CARBONATE_LIGAND]
            ws[PAIR + place * UNKNOWN_COUNT + CARBONATE_LIGAND] = 0.0
        ws[MATRIX + CARBONATE_LIGAND * UNKNOWN_COUNT + CARBONATE_LIGAND] = 0.0
        ws[_HYDROGEN_ROW + CARBONATE_LIGAND] = 0.0
        ws[STRENGTH_ROW + CARBONATE_LIGAND] = 0.0
    for place in range(CENTRAL_COUNT):
        total = ws[TOTAL + place]
        if total <= 0.0:
            continue
        # Ratios first: a total may be too small to be turned over.
        protons = ws[CENTRAL_PROTON + place]
        squared = ws[CENTRAL_SQUARE + place]
        corner -= protons / total * protons
        square -= protons / total * squared
        for row in range(LIGAND_COUNT):
            share = ws[PAIR + place * UNKNOWN_COUNT + row] / total
            if share == 0.0:
                continue
            ws[_HYDROGEN_ROW + row] -= share * protons
            ws[STRENGTH_ROW + row] -= share * squared
            for column in range(row + 1):
                ws[MATRIX + row * UNKNOWN_COUNT + column] -= (
                    share * ws[PAIR + place * UNKNOWN_COUNT + column]
                )
    ws[_HYDROGEN_ROW + HYDROGEN_UNKNOWN] = corner
    ws[STRENGTH_ROW + HYDROGEN_UNKNOWN] = square
    for column in range(UNKNOWN_COUNT):
        ws[CHARGE_ROW + column] = ws[_HYDROGEN_ROW + column]
    if fixed_ph:
        for column in range(UNKNOWN_COUNT):
            ws[_HYDROGEN_ROW + column] = 0.0
        ws[CHARGE_ROW + HYDROGEN_UNKNOWN] = 0.0
        ws[STRENGTH_ROW + HYDROGEN_UNKNOWN] = 0.0
    for row in range(UNKNOWN_COUNT):
        if ws[MATRIX + row * UNKNOWN_COUNT + row] <= 0.0:
            ws[MATRIX + row * UNKNOWN_COUNT + row] = 1.0
            ws[RESIDUAL + row] = 0.0
            ws[STRENGTH_COLUMN + row] = 0.0
            ws[AMOUNT_COLUMN + row] = 0.0


@kernel
def fill_amount_column(ws: FloatArray) -> tuple[float, float]:
    """
    Set how the balances change with the amount of reagent.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace after `evaluate`, the pairs with carbonate beside a gas left out [mol/kg].

    Returns
    -------
    protons : float
        Change of the sum of protons, by the central ions of the reagent [mol/mol].
    squares : float
        Change of the sum of squared charges, by them [mol/mol].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    protons, squares = 0.0, 0.0
    for row in range(LIGAND_COUNT):
        ws[AMOUNT_COLUMN + row] = -ws[REAGENT + CENTRAL_COUNT + row]
    ws[AMOUNT_COLUMN + HYDROGEN_UNKNOWN] = 0.0
    for place in range(CENTRAL_COUNT):
        added = ws[REAGENT + place]
        total = ws[TOTAL + place]
        if added == 0.0 or not total > 0.0:
            continue
        share = added / total
        protons += share * ws[CENTRAL_PROTON + place]
        squares += share * ws[CENTRAL_SQUARE + place]
        for row in range(LIGAND_COUNT):
            ws[AMOUNT_COLUMN + row] += share * ws[PAIR + place * UNKNOWN_COUNT + row]
    return protons, squares


@kernel
def factor_matrix(ws: FloatArray) -> None:
    """
    Replace the matrix by its Cholesky factors without roots.

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
        start = ws[MATRIX + row * UNKNOWN_COUNT + row]
        pivot = start
        for middle in range(row):
            factor = ws[MATRIX + row * UNKNOWN_COUNT + middle]
            if factor == 0.0:
                continue
            scaled = factor * ws[INVERSE_PIVOT + middle]
            pivot -= factor * scaled
            for lower in range(row + 1, UNKNOWN_COUNT):
                ws[MATRIX + lower * UNKNOWN_COUNT + row] -= (
                    scaled * ws[MATRIX + lower * UNKNOWN_COUNT + middle]
                )
        pivot = max(pivot, 1e-14 * start)
        ws[MATRIX + row * UNKNOWN_COUNT + row] = pivot
        ws[INVERSE_PIVOT + row] = 1.0 / pivot


@kernel
def substitute(ws: FloatArray, column: int) -> None:
    """
    Replace a column by the solution of the factored matrix for it.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace after `factor_matrix` [mol/kg].
    column : int
        Place of the column in the workspace.

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    for row in range(UNKNOWN_COUNT):
        value = ws[column + row]
        for middle in range(row):
            value -= (
                ws[MATRIX + row * UNKNOWN_COUNT + middle]
                * ws[INVERSE_PIVOT + middle]
                * ws[column + middle]
            )
        ws[column + row] = value
    for row in range(UNKNOWN_COUNT - 1, -1, -1):
        value = ws[column + row]
        for lower in range(row + 1, UNKNOWN_COUNT):
            value -= ws[MATRIX + lower * UNKNOWN_COUNT + row] * ws[column + lower]
        ws[column + row] = value * ws[INVERSE_PIVOT + row]


@kernel
def _product(ws: FloatArray, row: int, column: int) -> float:
    """Return the scalar product of a row and a column of the workspace."""
    total = 0.0
    for place in range(UNKNOWN_COUNT):
        total += ws[row + place] * ws[column + place]
    return total


@kernel
def strength_step(ws: FloatArray, surplus: float, square_drift: float) -> float:
    """
    Return the Newton step of the ionic strength, together with that of the other unknowns.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace whose columns are solved [mol/kg].
    surplus : float
        Ionic strength of the species less the one that the coefficients hold for [mol/kg].
    square_drift : float
        Change of the sum of squared charges with ionic strength [dimensionless].

    Returns
    -------
    float
        Step [mol/kg].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    slope = 1.0 - 0.5 * square_drift + 0.5 * _product(ws, STRENGTH_ROW, STRENGTH_COLUMN)
    wanted: float = surplus + 0.5 * _product(ws, STRENGTH_ROW, RESIDUAL)
    # The species change little with the ionic strength: a slope far from 1 is not to be believed.
    return wanted / min(max(slope, 0.5), 2.0)


@kernel
def strength_and_amount_step(
    ws: FloatArray,
    surplus: float,
    square_drift: float,
    square_of_amount: float,
    imbalance: float,
    charge_drift: float,
    charge_of_amount: float,
) -> tuple[float, float, float]:
    """
    Return the Newton steps of the ionic strength and of the amount of a reagent at a held pH.

    Parameters
    ----------
    ws : ndarray, shape (WORKSPACE_SIZE,)
        Workspace whose columns are solved [mol/kg].
    surplus : float
        Ionic strength of the species less the one that the coefficients hold for [mol/kg].
    square_drift : float
        Change of the sum of squared charges with ionic strength [dimensionless].
    square_of_amount : float
        Change of that sum with the amount, ligands held [mol/mol].
    imbalance : float
        Charge of all species [mol/kg].
    charge_drift : float
        Change of the charge with ionic strength [dimensionless].
    charge_of_amount : float
        Change of the charge with the amount, ligands held [mol/mol].

    Returns
    -------
    strength : float
        Step of the ionic strength [mol/kg].
    amount : float
        Step of the amount; NaN where the amount does not move the charge [mol/kg].
    slope : float
        Change of the charge with the amount, all else in balance [mol/mol].

    References
    ----------
    .. [1] D. L. Parkhurst and C. A. J. Appelo, *Description of input and examples for PHREEQC
       version 3*, U.S. Geological Survey Techniques and Methods 6-A43, 2013.
       Source key: ``parkhurst-appelo-2013``.
    """
    a11 = 1.0 - 0.5 * square_drift + 0.5 * _product(ws, STRENGTH_ROW, STRENGTH_COLUMN)
    a11 = min(max(a11, 0.5), 2.0)
    a12 = 0.5 * (_product(ws, STRENGTH_ROW, AMOUNT_COLUMN) - square_of_amount)
    b1 = surplus + 0.5 * _product(ws, STRENGTH_ROW, RESIDUAL)
    a21 = charge_drift - _product(ws, CHARGE_ROW, STRENGTH_COLUMN)
    a22 = charge_of_amount - _product(ws, CHARGE_ROW, AMOUNT_COLUMN)
    b2 = -imbalance - _product(ws, CHARGE_ROW, RESIDUAL)
    slope = a22 - a21 * a12 / a11
    if slope == 0.0 or not math.isfinite(slope):
        return 0.0, math.nan, math.nan
    amount = (b2 - a21 * b1 / a11) / slope
    return (b1 - a12 * amount) / a11, amount, slope
