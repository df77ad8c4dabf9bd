"""How do scalars, arrays and Series go in as floats and come back as what they were?"""

from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = "ArrayLike | pd.Series | None"


def floats(values: Numbers) -> Floats:
    """Return numbers as float64; None, NaN and pd.NA become NaN."""
    if isinstance(values, pd.Series):
        return values.to_numpy(dtype=np.float64, na_value=np.nan)
    if values is None:
        return np.asarray(np.nan)
    return np.asarray(values, dtype=np.float64)


def like(template: Numbers, values: Floats) -> "float | Floats | pd.Series":
    """Return `values` as a float for a scalar, a Series for a Series, else as an array."""
    if isinstance(template, pd.Series):
        return pd.Series(values, index=template.index)
    return float(values) if values.ndim == 0 else values
