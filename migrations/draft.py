"""`python -m migrations.draft "what it does"`: write the next migration, to be checked by hand.

Alembic does not see check constraints; `tests/migrations` names those that are missing.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from alembic import command

from migrations.revisions import head
from migrations.runner import HERE, configuration, upgrade


def draft(message: str, folder: Path = HERE / "versions") -> Path:
    """Write what the tables have and the newest migration has not; return the new file."""
    number = f"{int(head()) + 1:04d}"
    with tempfile.TemporaryDirectory() as scratch:
        url = f"sqlite:///{scratch}/draft.db"
        upgrade(url)
        config = configuration(url)
        locations = {str(HERE / "versions"): None, str(folder): None}
        config.set_main_option("version_locations", ":".join(locations).replace("%", "%%"))
        command.revision(
            config, message, autogenerate=True, rev_id=number, version_path=str(folder)
        )
    return next(folder.glob(f"r{number}_*.py"))


if __name__ == "__main__":
    print(draft(" ".join(sys.argv[1:])))
