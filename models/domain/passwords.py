"""What usernames and passwords may be.

References
----------
NIST SP 800-63B: length is what counts, no rules on kinds of characters, at least 64 characters
allowed (from memory).

"""

from __future__ import annotations

import re

USERNAME = re.compile("[a-z0-9](?:[a-z0-9._-]{1,38})[a-z0-9]")
SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 200


def username_wanted() -> str:
    """Return a phrase that says what username would be right."""
    return (
        "a username of 3 to 40 characters from a-z, 0-9, dot, hyphen and underscore, which starts "
        "and ends with a letter or digit"
    )
