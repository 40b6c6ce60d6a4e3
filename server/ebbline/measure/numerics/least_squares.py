"""Weighted least squares with the covariance of its coefficients."""

from __future__ import annotations

import numpy as np

from ebbline.errors import MeasureError
from ebbline.records.arrays import FloatArray


def weighted_fit(
    design: FloatArray, y: FloatArray, sd: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Coefficients (p,) and their covariance (p, p) for y (n,) with known errors sd (n,).

    ``design`` is (n, p). Held against NIST StRD in tests/published.

    Raises:
        MeasureError: fewer rows than coefficients, or columns that depend on each other.
    """
    n, p = design.shape
    if n < p:
        raise MeasureError(f"{p} coefficients need {p} rows, have {n}")
    q, r = np.linalg.qr(design / sd[:, None])
    if np.min(np.abs(np.diag(r))) < 1e-12 * np.max(np.abs(np.diag(r))):
        raise MeasureError("the columns of the fit depend on each other")
    inverse = np.linalg.solve(r, np.eye(p))
    return np.asarray(inverse @ (q.T @ (y / sd))), np.asarray(inverse @ inverse.T)
