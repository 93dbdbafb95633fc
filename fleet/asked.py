"""What an address asks for, read with care: nothing a stranger can write into it is an error."""

from __future__ import annotations

MOST_KEY = 10**18 - 1  # Below what a database's big integer holds, so that no engine refuses the question.


def whole(said: str | None, most: int = MOST_KEY) -> int | None:
    """The whole number from 0 to `most` that is written there in plain digits, or None for anything else."""
    if not said or not said.isascii() or not said.isdigit() or len(said) > len(str(most)):
        return None
    number = int(said)
    return number if number <= most else None
