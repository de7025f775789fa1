"""Which test knits make defaults right fastest? Run: python .bench/plans --out DIRECTORY.

A design of five sizes is calibrated from test knits in the simulated worlds of `.bench/decisions`:
chosen by our plan, for the largest determinant, or at random. What counts is the mean chance of
just right that the resulting table truly has, as a share of the best possible table's. Every
strategy is calibrated and asked again after 10, 20, 40, 60, 90 and 120 reports, and all are
calibrated and graded alike: only the socks differ.
"""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from plans.command import main

    main()
