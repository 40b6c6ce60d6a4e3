"""The curves as one CSV table, for anybody who goes on in a spreadsheet."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd

from ebbline.records.curves import Band, Curves


def curves_csv(curves: Curves) -> str:
    """Every point of the curves: the drive, then the recharge, the log, the fade of power, and what
    the display showed: power and energy while charging, power available.

    ``part`` says which of them a row is of; columns of the others are empty, as is what is not
    known. A band is three columns: ``speed_mps``, ``speed_mps_low``, ``speed_mps_high``. Times
    are milliseconds since the Unix epoch.
    """
    names = ("drive", "recharge", "log", "fade", "shown", "counted", "available")
    parts: dict[str, dict[str, np.ndarray]] = {name: {} for name in names}
    for field in dataclasses.fields(curves):
        column = getattr(curves, field.name)
        part = field.name.partition("_")[0]
        columns = parts.get(part, parts["drive"])
        name = "t_ms" if field.name == f"{part}_t_ms" else field.name
        if isinstance(column, Band):
            columns |= {name: column.value, f"{name}_low": column.low, f"{name}_high": column.high}
        else:
            columns[name] = column
    parts["drive"]["in_gap"] = parts["drive"]["in_gap"].astype(np.int64)
    table = pd.concat(
        [pd.DataFrame(part).convert_dtypes() for part in parts.values()],
        keys=list(parts),
        names=["part", None],
    )
    text: str = table.reset_index(level="part").to_csv(index=False, lineterminator="\n")
    return text
