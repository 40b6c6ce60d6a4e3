"""The curves as one CSV table, for whoever wants to work on with a spreadsheet."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd

from ebbline.records import Band, Curves


def curves_csv(curves: Curves) -> str:
    """Every point of the curves, the drive first and the recharge below it.

    ``part`` says which of the two a row is of; columns of the other are empty, as is what is not
    known. A band is three columns: ``speed_mps``, ``speed_mps_low``, ``speed_mps_high``. Times
    are milliseconds since the Unix epoch.
    """
    drive: dict[str, np.ndarray] = {}
    recharge: dict[str, np.ndarray] = {}
    for field in dataclasses.fields(curves):
        column = getattr(curves, field.name)
        table = recharge if field.name.startswith("recharge_") else drive
        name = "t_ms" if field.name == "recharge_t_ms" else field.name
        if isinstance(column, Band):
            table |= {name: column.value, f"{name}_low": column.low, f"{name}_high": column.high}
        else:
            table[name] = column
    drive["in_gap"] = drive["in_gap"].astype(np.int64)
    parts = pd.concat(
        [pd.DataFrame(drive).convert_dtypes(), pd.DataFrame(recharge).convert_dtypes()],
        keys=["drive", "recharge"],
        names=["part", None],
    )
    text: str = parts.reset_index(level="part").to_csv(index=False, lineterminator="\n")
    return text
