"""The sentences of the distortion report, in one golden file.

Run as a script it writes the file anew, to be read before it is committed:

    python tests/test_distortion_wording.py
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from distortion_examples import EXAMPLES
from himotif.core.findings import Code, Finding
from himotif.core.paper.distortion_wording import SENTENCES

GOLDEN = Path(__file__).parent / "golden" / "distortion_paper.txt"


def golden_text() -> str:
    """Return a line for every code."""
    return "".join(
        f"{code.value}: {words(EXAMPLES[code].data, 'cm')}\n" for code, words in SENTENCES.items()
    )


def test_the_sentences_are_those_of_the_golden_file() -> None:
    assert golden_text() == GOLDEN.read_text(encoding="utf-8")


@pytest.mark.parametrize("code", SENTENCES)
def test_a_finding_is_plain_data_and_its_sentence_names_no_option(code: Code) -> None:
    finding = EXAMPLES[code]
    plain = json.loads(json.dumps(finding.as_dict(), allow_nan=False))
    assert Finding.from_dict(plain) == finding
    assert "--" not in SENTENCES[code](finding.data, "cm")


if __name__ == "__main__":
    GOLDEN.parent.mkdir(exist_ok=True)
    GOLDEN.write_text(golden_text(), encoding="utf-8")
