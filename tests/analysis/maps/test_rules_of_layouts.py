"""What is said of two layouts, on both sides of five per cent."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from kikichoko.analysis.maps.rv_configurations import rv_test


@pytest.mark.parametrize(("p", "key"), [(0.05, "rv.shared"), (0.0501, "rv.not_shown")])
def test_layouts_are_shared_at_five_per_cent(p: float, key: str):
    rng = np.random.default_rng(3)
    one, two = (pd.DataFrame(rng.normal(size=(5, 2)), index=list("abcde")) for _ in range(2))
    assert replace(rv_test(one, two), p=p).sentences()[0].key == key
