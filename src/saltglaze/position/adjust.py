"""Robust weighted least squares on a sparse problem, with the covariance it leaves.

One solver serves the stationing of a run, the plan of the line and the small surveying
adjustments they are checked by. Unknowns are ordered as a *chain* (each coupled to its
near neighbours only, so that its normal matrix is banded) followed by a *border* of
unknowns that touch the whole chain (a counter's scale, the place of a joint seen twice).
Cost is linear in the length of the chain.

Gross errors are met by a two-part error law for each row: with probability
``1 - out_share`` the error is normal with ``sd``, otherwise normal with the much larger
``out_sd``. Maximising it by expectation-maximisation is iteratively reweighted least
squares with weight ``p / sd**2 + (1 - p) / out_sd**2``, ``p`` being the probability that
the row is a good one given its residual (Aitkin and Wilson 1980, "Mixture models,
outliers, and the EM algorithm", Technometrics 22; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve, cho_solve_banded, cholesky_banded
from scipy.sparse import csr_array

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Equations:
    """Observation rows ``matrix @ unknowns = values + error``.

    ``sd`` is each row's standard deviation in the unit of its value; ``out_share`` the
    probability that the row is a gross error and ``out_sd`` its spread then.
    """

    matrix: csr_array
    values: Floats
    sd: Floats
    out_share: Floats
    out_sd: Floats


@dataclass
class EquationBook:
    """Collects observation rows before they are solved."""

    unknowns: int
    _rows: list[Ints] = field(default_factory=list)
    _columns: list[Ints] = field(default_factory=list)
    _factors: list[Floats] = field(default_factory=list)
    _laws: list[Floats] = field(default_factory=list)
    count: int = 0

    def add(
        self,
        columns: object,
        factors: object,
        values: object,
        sd: object,
        out_share: object = 0.0,
        out_sd: object = 1.0,
    ) -> slice:
        """Add rows; return where they stand.

        ``columns`` and ``factors`` are (rows, terms); the others one per row, or one
        number for all of them.
        """
        column = np.atleast_2d(np.asarray(columns, dtype=np.int64))
        factor = np.broadcast_to(np.asarray(factors, dtype=float), column.shape)
        rows = column.shape[0]
        law = np.empty((rows, 4))
        for place, part in enumerate((values, sd, out_share, out_sd)):
            law[:, place] = np.asarray(part, dtype=float)
        where = slice(self.count, self.count + rows)
        index = np.arange(where.start, where.stop, dtype=np.int64)
        self._rows.append(np.repeat(index, column.shape[1]))
        self._columns.append(column.ravel())
        self._factors.append(factor.ravel())
        self._laws.append(law)
        self.count += rows
        return where

    def close(self) -> Equations:
        """Return all rows collected as one system."""
        rows, columns = np.concatenate(self._rows), np.concatenate(self._columns)
        factors, law = np.concatenate(self._factors), np.concatenate(self._laws)
        matrix = csr_array((factors, (rows, columns)), shape=(self.count, self.unknowns))
        return Equations(matrix, law[:, 0], law[:, 1], law[:, 2], law[:, 3])


@dataclass(frozen=True)
class Factor:
    """A factored normal matrix: a banded chain and a dense border.

    With the normal matrix ``[[B, E], [E', D]]``, ``B = L L'`` is the banded Cholesky
    factor of the chain and ``S = D - E' B^-1 E`` the Schur complement of the border.
    """

    lower: Floats
    """(band + 1, chain) lower banded factor of the chain."""
    border: Floats
    """E, (chain, border)."""
    border_solved: Floats
    """B^-1 E."""
    schur: Floats
    """Upper Cholesky factor of S (border, border)."""

    @property
    def chain(self) -> int:
        """Number of unknowns in the chain."""
        return int(self.lower.shape[1])

    def solve(self, right: Floats) -> Floats:
        """Solve the normal equations for one or many right-hand sides (unknowns, ...)."""
        top, bottom = right[: self.chain], right[self.chain :]
        if self.chain:
            top = cho_solve_banded((self.lower, True), top, check_finite=False)
        if self.schur.size:
            rest = bottom - self.border.T @ top
            bottom = cho_solve((self.schur, False), rest, check_finite=False)
            top = top - self.border_solved @ bottom
        return np.concatenate([top, bottom])


def factorise(normal: csr_array, chain: int, band: int) -> Factor:
    """Factor a normal matrix whose first ``chain`` unknowns couple within ``band``."""
    part = normal.tocoo()
    row, column, value = part.coords[0], part.coords[1], part.data
    banded = np.zeros((band + 1, chain))
    inside = (row < chain) & (column < chain) & (row >= column)
    banded[row[inside] - column[inside], column[inside]] = value[inside]
    size = normal.shape[0] - chain
    border = np.zeros((chain, size))
    edge = (row < chain) & (column >= chain)
    border[row[edge], column[edge] - chain] = value[edge]
    corner = np.zeros((size, size))
    last = (row >= chain) & (column >= chain)
    corner[row[last] - chain, column[last] - chain] = value[last]
    lower = cholesky_banded(banded, lower=True, check_finite=False) if chain else banded
    solved = border
    if chain and size:
        solved = cho_solve_banded((lower, True), border, check_finite=False)
    schur = corner
    if size:
        schur = cho_factor(corner - border.T @ solved, lower=False, check_finite=False)[0]
    return Factor(lower, border, solved, schur)


@dataclass(frozen=True)
class Adjustment:
    """The adjusted unknowns, the weights they came by, and their covariance on demand."""

    unknowns: Floats
    residuals: Floats
    """Fitted less observed, one per row."""
    good: Floats
    """Probability that each row is not a gross error."""
    factor: Factor

    def covariance(self, combinations: Floats) -> Floats:
        """Covariance of linear combinations, given as (count, unknowns)."""
        return combinations @ self.factor.solve(np.ascontiguousarray(combinations.T))

    @cached_property
    def chain_covariance(self) -> Floats:
        """Covariances within the band of the chain, (band + 1, chain), lower form."""
        inside = _selected_inverse(self.factor.lower)
        if not self.factor.schur.size:
            return inside
        half = np.linalg.solve(np.triu(self.factor.schur).T, self.factor.border_solved.T)
        total = inside.copy()
        for below in range(inside.shape[0]):
            reach = inside.shape[1] - below
            total[below, :reach] += np.einsum("ij,ij->j", half[:, below:], half[:, :reach])
        return total


def _selected_inverse(lower: Floats) -> Floats:
    """Entries of the inverse within the band of a banded Cholesky factor.

    Backward recursion of Takahashi, Fagan and Chin (1973) as given by Erisman and
    Tinney (1975), "On computing certain elements of the inverse of a sparse matrix",
    CACM 18 (from memory): ``S_ij = d_ij / l_jj**2 - sum_k>j S_ik l_kj / l_jj``.
    """
    band, size = lower.shape[0] - 1, lower.shape[1]
    inverse = np.zeros((size + band, band + 1))
    columns = lower.T.tolist()
    kept: list[list[float]] = [[0.0] * (band + 1) for _ in range(band)]
    for j in range(size - 1, -1, -1):
        pivot, *under = columns[j]
        ratio = [value / pivot for value in under]
        entry = [0.0] * (band + 1)
        for i in range(band):
            total = 0.0
            for k in range(band):
                low, high = (i, k) if i < k else (k, i)
                total -= kept[low][high - low] * ratio[k]
            entry[i + 1] = total
        entry[0] = 1.0 / pivot**2 - sum(entry[k + 1] * ratio[k] for k in range(band))
        inverse[j] = entry
        kept = [entry, *kept[: band - 1]] if band else kept
    return np.ascontiguousarray(inverse[:size].T)


def good_share(equations: Equations, residuals: Floats) -> Floats:
    """Probability that each row is a good one, given its residual."""
    with np.errstate(under="ignore"):
        inner = np.log1p(-equations.out_share) - np.log(equations.sd)
        inner = inner - 0.5 * (residuals / equations.sd) ** 2
        outer = np.log(np.maximum(equations.out_share, 1e-300)) - np.log(equations.out_sd)
        outer = outer - 0.5 * (residuals / equations.out_sd) ** 2
        odds = np.clip(outer - inner, -700.0, 700.0)
        good = 1.0 / (1.0 + np.exp(odds))
    return np.where(equations.out_share > 0.0, good, 1.0)


def adjust(
    equations: Equations,
    *,
    chain: int = 0,
    band: int = 0,
    start: Floats | None = None,
    rounds: int = 30,
    settled: float = 1e-4,
) -> Adjustment:
    """Solve the rows robustly.

    Parameters
    ----------
    equations
        Rows of a full-rank system (give weak priors where the evidence is thin).
    chain, band
        How many leading unknowns form the banded chain, and its half band width.
    start
        A first guess of the unknowns, used only to judge which rows are gross errors;
        without it all rows are first taken as good.
    rounds, settled
        Reweighting stops after ``rounds`` or when no unknown moves by ``settled``.
    """
    good = np.ones(equations.values.size)
    if start is not None:
        good = good_share(equations, equations.matrix @ start - equations.values)
    unknowns = start if start is not None else np.full(equations.matrix.shape[1], np.inf)
    robust = bool(np.any(equations.out_share > 0.0))
    transposed = equations.matrix.T.tocsr()
    for _ in range(rounds if robust else 1):
        weight = good / equations.sd**2 + (1.0 - good) / equations.out_sd**2
        scaled = transposed.multiply(weight).tocsr()
        factor = factorise(csr_array(scaled @ equations.matrix), chain, band)
        before, unknowns = unknowns, factor.solve(scaled @ equations.values)
        residuals = equations.matrix @ unknowns - equations.values
        good = good_share(equations, residuals)
        if np.max(np.abs(unknowns - before), initial=0.0) < settled:
            break
    return Adjustment(unknowns, residuals, good, factor)
