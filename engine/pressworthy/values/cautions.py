"""The cautions that go with what is told: one sentence for one meaning."""

from __future__ import annotations

REPORT = "These are measurements, no contract proof: the printer's own data and advice come first."
"""Of a report on what was measured."""

PROOF = (
    "No contract proof: a simulation of an average press on an unmeasured screen. "
    "The printer's own data and advice come first."
)
"""Of a page that shows simulated prints."""

PROFILE_ALONE = "As its own ICC profile says; the printer's advice comes first."
"""Of a printing condition of which nothing but an ICC profile is known."""

PROGRAM = "The printer's own data and advice come first; no report here is a contract proof."
"""Of all that this program prints, where it is explained or shows where a page lies."""
