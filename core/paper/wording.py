"""Findings in words for paper: what is so, without options of the command and without remedies.

A short sentence or two for each code, in the present tense. The command and the page begin with
the same and go on with what to do (`himotif.convert.wording`, `himotif.convert.page.wording`).
"""

from __future__ import annotations

import re

from ..errors import HimotifError
from ..findings import Code, Finding
from . import conversion_wording, distortion_wording, making_wording
from .making_wording import Data, Unit, Wording

_IN_BRACKETS = re.compile(r" \((?:[^()]*\s)?--[a-z][^()]*\)")
_OPTION = re.compile(r"(?<!\S)--([a-z]+(?:-[a-z]+)*)")


def _remark(data: Data, unit: Unit) -> str:
    """Texts of older files name options: those in brackets go whole, others become words."""
    text = _IN_BRACKETS.sub("", data["text"])
    return _OPTION.sub(lambda found: found[1].replace("-", " "), text)


SENTENCES: dict[Code, Wording] = {
    Code.REMARK: _remark,
    **making_wording.SENTENCES,
    **conversion_wording.SENTENCES,
    **distortion_wording.SENTENCES,
}
"""What each finding says."""


def sentence(finding: Finding, unit: Unit = None) -> str:
    """Return what a finding says, as one sentence or a few.

    Parameters
    ----------
    finding : Finding
    unit : 'cm' or 'in', optional
        Of lengths; what is measured on beads and braid stands in mm.

    Raises
    ------
    HimotifError
        If its data are not those of its code, as may be in a file edited by hand.
    """
    try:
        return SENTENCES[finding.code](finding.data, unit)
    except (AttributeError, IndexError, KeyError, TypeError, ValueError):
        raise HimotifError(
            f"finding {finding.code.value}: its data are damaged; take it out of the file."
        ) from None
