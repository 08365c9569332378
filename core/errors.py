"""The one error root. Every message says what is wrong, where, and how to mend it."""

from __future__ import annotations

from collections.abc import Sequence


class HimotifError(Exception):
    """Something a maker can mend; the command prints it as it stands and exits with 1."""

    exit_code = 1


class WrongUsage(HimotifError):
    """The request itself cannot be met, whatever the files hold; the command exits with 2."""

    exit_code = 2


MOST_PROBLEMS = 20
"""So many are printed; a screen holds them, and mending these often mends the rest."""


def first_of(lines: Sequence[str], what: str) -> list[str]:
    """Return the first 20 lines, and how many more of `what` there are."""
    more = len(lines) - MOST_PROBLEMS
    rest = [f"And {more} more {what} like these."] if more > 0 else []
    return [*lines[:MOST_PROBLEMS], *rest]


class Problems(HimotifError):
    """All problems of one file together; the message names the first 20 and how many more.

    Parameters
    ----------
    problems : sequence of str
        One sentence each, with file and line.
    """

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(first_of(self.problems, "problems")))
