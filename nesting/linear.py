"""Rows of a linear program, as they are collected."""

from __future__ import annotations

from typing import Any

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from .kernels import FloatArray

_Integers = NDArray[np.signedinteger[Any]]


class Table:
    """Rows ``sum of value * unknown <= limit``, many at a time."""

    def __init__(self) -> None:
        self._row: list[_Integers] = []
        self._column: list[_Integers] = []
        self._value: list[FloatArray] = []
        self._limit: list[FloatArray] = []
        self._count = 0

    def add(self, limit: FloatArray, *entries: tuple[_Integers, FloatArray]) -> None:
        """Add one row per limit.

        Parameters
        ----------
        limit : float64 (n,)
        *entries : tuple of int (n,) and float64 (n,)
            The unknown and its value, for each row.
        """
        row = self._count + np.arange(len(limit), dtype=np.int32)
        for column, value in entries:
            self._row.append(row)
            self._column.append(column)
            self._value.append(value)
        self._limit.append(limit)
        self._count += len(limit)

    def of(self, unknowns: int) -> tuple[scipy.sparse.csr_array, FloatArray]:
        """Return the rows as a matrix with so many columns, and their limits."""
        where = (np.concatenate(self._row), np.concatenate(self._column))
        table = scipy.sparse.csr_array(
            (np.concatenate(self._value), where), shape=(self._count, unknowns)
        )
        return table, np.concatenate(self._limit)
