"""The layer that entering water settles in: heights of neutral buoyancy, by reasoning on small profiles."""

import numpy as np
import pytest

from loopwright.engineering.plumes import settling_layer

LAYERS = np.array([20.0, 30.0, 40.0, 50.0, 60.0])


@pytest.mark.parametrize(
    ("tapping", "entering", "layer"),
    [(0, 45.0, 2), (2, 45.0, 2), (4, 45.0, 3), (4, 10.0, 0), (0, 90.0, 4), (2, 40.0, 2), (0, 10.0, 0), (4, 70.0, 4)],
)
def test_water_stays_where_it_is_neither_lighter_nor_heavier(tapping, entering, layer):
    assert settling_layer(LAYERS, tapping, entering) == layer
