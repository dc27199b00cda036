"""What a report does without is not loaded, and whoever asks for it afterwards gets it."""

from __future__ import annotations

import subprocess
import sys

SPARED = ("scipy.stats", "scipy.cluster", "numpy.f2py")
ASK = f"""
import sys
from kikichoko.panel.commands._session import load_what_draws
import matplotlib.artist
written = matplotlib.artist.kwdoc
load_what_draws()
print(*(name for name in {SPARED} if name in sys.modules), "loaded")
assert "seaborn" in sys.modules
assert matplotlib.artist.kwdoc is written
import numpy, scipy.stats, scipy.cluster, seaborn
assert numpy.f2py.__name__ == "numpy.f2py"
assert round(float(scipy.stats.norm.cdf(1.96)), 3) == 0.975
load_what_draws()
assert "scipy.stats" in sys.modules
print("given")
"""


def test_what_a_report_does_without_is_left_out_and_given_later():
    done = subprocess.run([sys.executable, "-c", ASK], capture_output=True, text=True, check=False)
    assert done.stdout.split() == ["loaded", "given"], done.stderr
