"""The one error root. Every message says what is wrong, where, and how to mend it."""

from __future__ import annotations

from collections.abc import Sequence


class HimotifError(Exception):
    """Something a maker can mend; the command prints it as it stands and exits with 1."""

    exit_code = 1


class WrongUsage(HimotifError):
    """The request itself cannot be met, whatever the files hold; the command exits with 2."""

    exit_code = 2


class Problems(HimotifError):
    """All problems of one file together.

    Parameters
    ----------
    problems : sequence of str
        One sentence each, with file and line.
    """

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))
