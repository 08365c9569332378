"""The one error root. Every message says what is wrong, where, and how to mend it.

No message names an option of the command: an error carries the field it belongs to, and who shows
it names that field in its own words.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .findings import Remedy


class HimotifError(Exception):
    """Something a maker can mend; the command prints it as it stands and exits with 1."""

    exit_code = 1


class WrongUsage(HimotifError):
    """The request itself cannot be met, whatever the files hold; the command exits with 2.

    Parameters
    ----------
    message : str
    field : str, optional
        What is to be changed: a field of the option table, or a part of one.
    remedies : sequence of Remedy
        Values that would do, the best first.
    """

    exit_code = 2

    def __init__(
        self, message: str, field: str | None = None, remedies: Sequence[Remedy] = ()
    ) -> None:
        super().__init__(message)
        self.field = field
        self.remedies = tuple(remedies)
        self._parts: tuple[WrongUsage, ...] = ()

    @classmethod
    def together(cls, refused: Iterable[WrongUsage]) -> WrongUsage:
        """Return one error of several, a line each."""
        parts = tuple(part for one in refused for part in one.parts)
        whole = cls("\n".join(map(str, parts)))
        whole._parts = parts
        return whole

    @property
    def parts(self) -> tuple[WrongUsage, ...]:
        """The errors that this one is made of: itself, or each of several."""
        return self._parts or (self,)

    def at(self, field: str) -> WrongUsage:
        """Return the same error, or errors, of a field."""
        return self.together(WrongUsage(str(part), field, part.remedies) for part in self.parts)


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
