"""Part one of docs/tutorial.md as a list of words to be walked on the sheet, just as they stand.

A walk asks for each word of the sheet that it uses; what the tutorial does not name is not given,
and what it names and nobody walked is left over.
"""

from __future__ import annotations

import re
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"
MORE = "…"


class Tutorial:
    """The words that part one has in slanted type, and which of them were walked."""

    def __init__(self) -> None:
        part = (DOCS / "tutorial.md").read_text("utf-8").partition("# Part one")[2]
        steps = re.findall(r"(?ms)^\d\. .*?(?=^\d\. |^!|^\[)", part.partition("# Part two")[0])
        self.steps = [" ".join(step.split()) for step in steps]
        slanted = (
            re.findall(r"(?<![*\\])\*((?:[^*\\]|\\.)+)\*(?!\*)", step) for step in self.steps
        )
        self.words = {word.replace("\\", "") for words in slanted for word in words}
        self.walked: set[str] = set()

    def __call__(self, word: str) -> re.Pattern[str]:
        """Return what stands on the sheet for a word of the tutorial: that, whole, and no other."""
        assert word in self.words, f"the tutorial names no {word!r}"
        self.walked.add(word)
        parts = (re.escape(part.strip()) for part in word.split(MORE))
        return re.compile(rf"^\s*{'.+'.join(parts)}\s*$")

    def walk(self, word: str) -> str:
        """Return a word of the tutorial as it stands there."""
        self(word)
        return word

    def field(self, word: str, unit: str) -> re.Pattern[str]:
        """Return the label of a field: a word of the tutorial, and behind the field its unit."""
        self(word)
        return re.compile(rf"^{re.escape(word)}\s+{unit}$")

    def picture(self, name: str) -> str:
        """Return a picture's name in the tests' own issue, of its name in the tutorial."""
        self(name)
        return PICTURES[name]


PICTURES = {
    "harbour at low water.jpg": "harbour.jpg",
    "dyed cloth.jpg": "cloth.jpg",
    "oranges.jpg": "oranges.jpg",
    "chapel of the drowned.jpg": "chapel.jpg",
    "marsh at noon.jpg": "marsh.jpg",
}
"""Name in the tutorial, and in the demo -> of the like picture that is drawn here, small."""
