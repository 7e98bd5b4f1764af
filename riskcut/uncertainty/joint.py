"""The joint distribution of all uncertain numbers: independent normals in, physical values out.

Two steps, kept apart because sensitivity and FORM work between them: :meth:`Joint.correlate` ties
independent standard normals together inside groups of correlated drivers, :meth:`Joint.physical` turns
normal scores into values. What a row gives depends on that row alone, to the last bit: the sums are
written out column by column, since a matrix product rounds differently as the number of rows changes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from riskcut.uncertainty.marginals import Marginal
from riskcut.uncertainty.nataf import DependenceError, normal_correlation, normal_correlation_of_rank
from riskcut.uncertainty.nearest_correlation import nearest_correlation

__all__ = ["DependenceError", "Joint", "normal_correlation", "normal_correlation_of_rank"]

_LEAST_EIGENVALUE = 1e-12


def _components(correlation: NDArray[np.float64]) -> tuple[tuple[int, ...], ...]:
    """Find the connected components of the drivers under non-zero correlation, in order of first member."""
    unseen = set(range(len(correlation)))
    groups = []
    while unseen:
        members, frontier = set(), [min(unseen)]
        while frontier:
            member = frontier.pop()
            if member not in members:
                members.add(member)
                frontier.extend(int(k) for k in np.flatnonzero(correlation[member]))
        unseen -= members
        groups.append(tuple(sorted(members)))
    return tuple(groups)


def _cholesky(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lower Cholesky factor by explicit sums, the same bits whatever the linear algebra library."""
    size = len(matrix)
    factor = np.zeros((size, size))
    for j in range(size):
        column = matrix[j:, j].copy()
        for k in range(j):
            column -= factor[j:, k] * factor[j, k]
        if column[0] <= 0.0:
            raise np.linalg.LinAlgError("not positive definite")
        factor[j:, j] = column / np.sqrt(column[0])
    return factor


def _checked(correlation: NDArray[np.float64], drivers: int) -> NDArray[np.float64]:
    matrix = np.array(correlation, dtype=np.float64)
    if matrix.shape != (drivers, drivers):
        shape = " x ".join(str(size) for size in matrix.shape)
        raise DependenceError(f"the correlation matrix is {shape}; {drivers} drivers want it square")
    if not np.all(np.isfinite(matrix)):
        raise DependenceError("the correlation matrix holds entries that are not finite numbers")
    if not np.array_equal(matrix, matrix.T):
        i, j = (int(k) for k in np.argwhere(matrix != matrix.T)[0])
        raise DependenceError(
            f"the correlation matrix is not symmetric: drivers {i} and {j} have {matrix[i, j]:g} one way "
            f"and {matrix[j, i]:g} the other"
        )
    if not np.all(np.diagonal(matrix) == 1.0):
        raise DependenceError("the correlation matrix wants ones on its diagonal")
    return matrix


class Joint:
    """Marginals tied by a Gaussian copula.

    Parameters
    ----------
    marginals : sequence of Marginal
        One a physical variable (a column), d of them.
    driver : sequence of int, optional
        The standard normal that each column reads; by default each its own. Columns that read one
        driver are fully dependent.
    correlation : ndarray, optional
        (m, m), of the drivers, in standard normal space; by default they are independent.

    Attributes
    ----------
    columns : int
        d, the number of physical variables.
    drivers : int
        m, the number of standard normals.
    groups : tuple of tuple of int
        Drivers tied to each other by non-zero correlations, directly or through others; a driver alone
        is a group of one. In order of first member.

    Raises
    ------
    DependenceError
        Where ``correlation`` is not a positive definite correlation matrix of the right size; the
        message names the smallest eigenvalue, and ``nearest`` holds the nearest matrix for the drivers
        that it tells of; it is never taken by itself.
    ValueError
        Where ``driver`` does not name one driver a column.
    """

    def __init__(
        self,
        marginals: Sequence[Marginal],
        driver: Sequence[int] | None = None,
        correlation: NDArray[np.float64] | None = None,
    ) -> None:
        self.marginals = tuple(marginals)
        self.columns = len(self.marginals)
        self.driver = tuple(range(self.columns)) if driver is None else tuple(int(k) for k in driver)
        if len(self.driver) != self.columns:
            raise ValueError(f"{self.columns} columns want a driver each; {len(self.driver)} are given")
        if correlation is None:
            self.drivers = max(self.driver, default=-1) + 1
        else:
            self.drivers = len(correlation)
        for j, k in enumerate(self.driver):
            if not 0 <= k < self.drivers:
                raise ValueError(f"column {j} reads driver {k}; there are drivers 0 to {self.drivers - 1}")
        matrix = np.eye(self.drivers) if correlation is None else _checked(correlation, self.drivers)
        matrix.flags.writeable = False
        self.correlation: NDArray[np.float64] = matrix
        self.groups = _components(matrix)
        self._factors = {group: self._factor(group) for group in self.groups if len(group) > 1}

    def restricted(self, columns: Sequence[int]) -> Joint:
        """Return the joint distribution of some columns alone; their drivers are renumbered, in order.

        Drivers that were tied only through one that is left out are independent in it, as they were.
        """
        kept = sorted({self.driver[column] for column in columns})
        place = {driver: i for i, driver in enumerate(kept)}
        return Joint(
            [self.marginals[column] for column in columns],
            [place[self.driver[column]] for column in columns],
            self.correlation[np.ix_(kept, kept)],
        )

    def _factor(self, group: tuple[int, ...]) -> NDArray[np.float64]:
        matrix = self.correlation[np.ix_(group, group)]
        smallest = float(np.linalg.eigvalsh(matrix)[0])
        try:
            if smallest < _LEAST_EIGENVALUE:
                raise np.linalg.LinAlgError("not positive definite")
            return _cholesky(matrix)
        except np.linalg.LinAlgError:
            nearest = nearest_correlation(matrix)
            if smallest > -1e-9:
                hint = "variables that are fully dependent read one driver"
            else:
                change = np.abs(nearest - matrix)
                i, j = np.unravel_index(change.argmax(), change.shape)
                hint = (
                    f"the nearest correlation matrix differs by up to {change.max():.2g} "
                    f"(drivers {group[i]} and {group[j]})"
                )
            offered = self.correlation.copy()
            offered[np.ix_(group, group)] = nearest
            raise DependenceError(
                f"the correlations of drivers {', '.join(str(k) for k in group)} contradict each other: "
                f"the matrix is not positive definite, its smallest eigenvalue is {smallest:.3g}; {hint}",
                nearest=offered,
            ) from None

    def correlate(
        self,
        w: NDArray[np.float64],
        drivers: Sequence[int] | None = None,
        out: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """Tie independent standard normals together: z = L w inside each group of drivers.

        Parameters
        ----------
        w : ndarray, (n, m)
            Independent standard normals, one column a driver.
        drivers : sequence of int, optional
            The only drivers that will be read; the columns of other drivers hold ``w`` as it was.
        out : ndarray, (n, m), optional
            Where the result goes; may be ``w`` itself, which saves a copy.

        Returns
        -------
        ndarray, (n, m)
            Correlated standard normals. ``w`` itself, not a copy, where nothing is correlated and no
            ``out`` is given. Column by column, so best on Fortran order; the same bits for a row
            whatever the other rows, their number and the memory layout.

        Notes
        -----
        A driver's row of L reads only itself and earlier members of its group, so the members are
        done last to first and may overwrite ``w``.
        """
        w = np.asarray(w, dtype=np.float64)
        if w.ndim != 2 or w.shape[1] != self.drivers:
            raise ValueError(f"an (n, {self.drivers}) array is wanted, {w.shape} is given")
        if out is None:
            if not self._factors:
                return w
            out = np.empty((self.drivers, len(w))).T
        if out is not w:
            out[...] = w
        wanted = None if drivers is None else set(drivers)
        term = np.empty(len(w))
        for group, factor in self._factors.items():
            for i in range(len(group) - 1, 0, -1):
                if wanted is not None and group[i] not in wanted:
                    continue
                total = out[:, group[i]]
                total *= factor[i, i]
                for k in range(i):
                    if factor[i, k] != 0.0:
                        np.multiply(w[:, group[k]], factor[i, k], out=term)
                        total += term
        return out

    def uncorrelate(self, z: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the independent standard normals w (n, m) of correlated ones z = L w (n, m).

        The inverse of :meth:`correlate`, by substitution column by column; ``z`` itself where nothing is correlated.
        """
        if not self._factors:
            return z
        w = np.array(z, dtype=np.float64, order="F")
        for group, factor in self._factors.items():
            for i in range(1, len(group)):
                rest = w[:, group[i]]
                for k in range(i):
                    if factor[i, k] != 0.0:
                        rest -= factor[i, k] * w[:, group[k]]
                rest /= factor[i, i]
        return w

    def physical(
        self,
        z: NDArray[np.float64],
        columns: Sequence[int] | None = None,
        out: NDArray[np.float64] | None = None,
    ) -> NDArray[np.float64]:
        """Turn correlated normal scores into values, each column by its marginal.

        Parameters
        ----------
        z : ndarray, (n, m)
            Correlated standard normals, one column a driver.
        columns : sequence of int, optional
            The physical variables wanted, in that order; all by default.
        out : ndarray, (n, len(columns)), optional
            Where the result goes; not ``z``.

        Returns
        -------
        ndarray, (n, len(columns))
            Fortran order (but for an ``out`` in another): each column is contiguous.
        """
        z = np.asarray(z, dtype=np.float64)
        chosen = range(self.columns) if columns is None else columns
        x = np.empty((len(chosen), len(z))).T if out is None else out
        for place, column in enumerate(chosen):
            self.column(z, column, x[:, place])
        return x

    def column(self, z: NDArray[np.float64], column: int, out: NDArray[np.float64]) -> NDArray[np.float64]:
        """Write the values of one physical variable into ``out`` (n,) and return it."""
        return self.marginals[column].from_normal(z[:, self.driver[column]], out)
