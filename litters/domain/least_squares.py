"""Nonlinear least squares for curves of three parameters, by damped Gauss-Newton steps.

Sources: Levenberg 1944, Q Appl Math 2:164-168; Marquardt 1963, J Soc Ind Appl Math 11:431-441 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

Parameters = tuple[float, float, float]
Predict = Callable[[Parameters, float], float]
Matrix = list[list[float]]

MAXIMUM_STEPS = 500
RELATIVE_STEP = 1e-10
LARGEST_DAMPING = 1e16


class FitFailed(ValueError):
    """No minimum was found from this start."""


@dataclass(frozen=True)
class Minimum:
    """Where the sum of squares is least; standard errors are None without a degree of freedom."""

    parameters: Parameters
    sum_of_squares: float
    standard_errors: Parameters | None


def fit_three_parameters(
    predict: Predict, ages: Sequence[float], targets: Sequence[float], start: Parameters
) -> Minimum:
    """The parameters that make the sum of squared residuals least, found downhill from `start`.

    predict may raise ValueError outside its range: such a step is not taken.  Raises FitFailed when the start
    is outside it or the descent does not settle.
    """
    current = start
    residuals = _residuals(predict, current, ages, targets)
    if residuals is None:
        raise FitFailed("the start lies outside the curve's range")
    damping = 1e-3
    for _ in range(MAXIMUM_STEPS):
        slopes = _slopes(predict, current, ages)
        normal, right = _normal_equations(slopes, residuals)
        step = None
        while damping <= LARGEST_DAMPING:
            step = _solve(_damped(normal, damping), right)
            if step is not None:
                trial = (current[0] + step[0], current[1] + step[1], current[2] + step[2])
                trial_residuals = _residuals(predict, trial, ages, targets)
                if trial_residuals is not None and _squares(trial_residuals) <= _squares(residuals):
                    break
            damping *= 8.0
        else:
            # no direction leads further down: this is the minimum as far as the numbers can tell
            return _minimum(current, residuals, normal)
        current, residuals = trial, trial_residuals
        damping = max(damping / 10.0, 1e-12)
        if all(abs(move) <= RELATIVE_STEP * (abs(at) + 1.0) for move, at in zip(step, current, strict=True)):
            normal, _ = _normal_equations(_slopes(predict, current, ages), residuals)
            return _minimum(current, residuals, normal)
    raise FitFailed("the descent did not settle")


def _minimum(parameters: Parameters, residuals: Sequence[float], normal: Matrix) -> Minimum:
    """The result with standard errors sqrt(s^2 (J'J)^-1), s^2 = squares/(n - 3)."""
    squares = _squares(residuals)
    freedom = len(residuals) - len(parameters)
    if freedom < 1:
        return Minimum(parameters, squares, None)
    errors = []
    for index in range(3):
        column = _solve(normal, [1.0 if row == index else 0.0 for row in range(3)])
        if column is None or column[index] < 0.0:
            raise FitFailed("the weights do not determine the curve")
        errors.append(math.sqrt(squares / freedom * column[index]))
    return Minimum(parameters, squares, (errors[0], errors[1], errors[2]))


def _residuals(
    predict: Predict, parameters: Parameters, ages: Sequence[float], targets: Sequence[float]
) -> list[float] | None:
    """Target minus prediction; None where the curve has no finite value."""
    try:
        found = [target - predict(parameters, age) for age, target in zip(ages, targets, strict=True)]
    except (ValueError, OverflowError):
        return None
    return found if math.isfinite(_squares(found)) else None


def _slopes(predict: Predict, parameters: Parameters, ages: Sequence[float]) -> Matrix:
    """Central differences of the prediction in each parameter, one row per age."""
    columns = []
    for index in range(3):
        width = 6e-6 * max(1.0, abs(parameters[index]))
        up, down = list(parameters), list(parameters)
        up[index] += width
        down[index] -= width
        above, below = (up[0], up[1], up[2]), (down[0], down[1], down[2])
        try:
            columns.append([(predict(above, age) - predict(below, age)) / (2.0 * width) for age in ages])
        except (ValueError, OverflowError):
            raise FitFailed("the descent reached the end of the curve's range") from None
    return [list(row) for row in zip(*columns, strict=True)]


def _normal_equations(slopes: Matrix, residuals: Sequence[float]) -> tuple[Matrix, list[float]]:
    normal = [[sum(row[i] * row[j] for row in slopes) for j in range(3)] for i in range(3)]
    right = [
        sum(row[i] * residual for row, residual in zip(slopes, residuals, strict=True)) for i in range(3)
    ]
    return normal, right


def _damped(normal: Matrix, damping: float) -> Matrix:
    """The normal matrix with its diagonal raised, scaled as Marquardt does."""
    return [
        [value * (1.0 + damping) if row == column else value for column, value in enumerate(values)]
        for row, values in enumerate(normal)
    ]


def _solve(matrix: Matrix, right: Sequence[float]) -> list[float] | None:
    """Three linear equations solved by elimination with row exchange; None without a single solution."""
    rows = [[*values, value] for values, value in zip(matrix, right, strict=True)]
    for column in range(3):
        pivot = max(range(column, 3), key=lambda row: abs(rows[row][column]))
        if not abs(rows[pivot][column]) > 0.0:
            return None
        rows[column], rows[pivot] = rows[pivot], rows[column]
        for row in range(column + 1, 3):
            factor = rows[row][column] / rows[column][column]
            rows[row] = [value - factor * above for value, above in zip(rows[row], rows[column], strict=True)]
    solution = [0.0, 0.0, 0.0]
    for row in (2, 1, 0):
        known = sum(rows[row][column] * solution[column] for column in range(row + 1, 3))
        solution[row] = (rows[row][3] - known) / rows[row][row]
    return solution if all(map(math.isfinite, solution)) else None


def _squares(residuals: Sequence[float]) -> float:
    return math.fsum(residual * residual for residual in residuals)
