"""Does the service keep its word when things break? Run: python .bench/faults NAME.

Each experiment breaks something (kills, full disks, half-sent and hostile requests, many people at
once) under the real server, a process of its own on the loopback, and checks what it claims; exit
code 1 where a claim does not hold. `--short` is a run of seconds for tests, `--seed` moves what is
drawn. Seconds only describe the machine.
"""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from faults.command import main

    main()
