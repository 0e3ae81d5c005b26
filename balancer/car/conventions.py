"""What all rooms share: the order of the corners, gravity, and the types of arrays.

Arrays of four are in the order LF RF LR RR.
"""

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Integers = NDArray[np.int64]
    Flags = NDArray[np.bool_]
else:
    # numpy.typing is for the type checker alone; importing it would slow every command.
    Floats = Integers = Flags = np.ndarray

CORNERS = ("LF", "RF", "LR", "RR")
GRAVITY = 9.80665
"""Standard gravity [m/s²]: scales show a force divided by it."""
