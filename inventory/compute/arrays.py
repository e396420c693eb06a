"""Arrays as computing names them: by what stands in them, whatever their shape."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]
#: Keys, counts, places, whole millionths.
Ints: TypeAlias = NDArray[np.int64]
#: Positions in a closed set of words.
Codes: TypeAlias = NDArray[np.int8]
