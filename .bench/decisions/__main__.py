"""How near to the best possible are decisions? Run: python .bench/decisions --out DIRECTORY.

Simulated worlds, whose truth is known, send reports; candidates learn from them and choose
slow-decrease rounds for new feet. Shares of the chance of "just right" that the oracle reaches
count; seconds only describe the machine. Minutes for all candidates and 20 seeds; `--seeds 0 2`
for a look. `--feet` draws real feet from a survey's CSV instead of its published figures.
"""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from decisions.command import main

    main()
