"""Help on the sheet: the way through an issue, ticked off as it is walked; what an accept may cost.

The words of the trade stand at the sheet's foot, and each switch says what it does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pressworthy.open_proof import saving, sending
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.issue import PROOF
from pressworthy.open_proof.page_desk import Asked


@dataclass(frozen=True)
class Step:
    """One step of the way; how: what to do for it; done: by what the folder and the desk tell."""

    what: str
    how: str
    done: bool


def way(desk: Desk, of_pages: Sequence[Asked] = ()) -> list[Step]:
    """Return the steps from an empty folder to what the printer gets, in their order.

    of_pages: what is to be answered on pages.
    """
    issue, lines = desk.issue, list(desk.lines.values())
    kinds = {decision.kind for decision in issue.decisions if not decision.taken_back}
    verdicts = [verdict for line in lines if (verdict := desk.verdict(line))]
    copies = [copy for line in lines if (copy := desk.copy(line)) and copy.path]
    proof = desk.folder / PROOF
    return [
        Step(
            "Put the pictures in",
            "drop them on the sheet; they are copied, and never written to",
            bool(issue.entries or issue.unlisted),
        ),
        Step("Choose the title", "its house standard is what they are judged by", bool(lines)),
        Step(
            "Let them be judged",
            "worst first; what could not be measured is no pass",
            bool(lines) and len(verdicts) == len(lines),
        ),
        Step(
            "Place them",
            "page, size and bleed decide how many pixels are enough",
            bool(lines) and all(line.task.request.size for line in lines),
        ),
        Step(
            "Decide on a remark",
            "beside it: another size or crop, its space vouched for, or accepted with a reason",
            bool(kinds - {"add", "title", "place"}),
        ),
        Step(
            "Take a decision back",
            "at the foot of the sheet; nothing decided there is for good",
            any(decision.taken_back for decision in issue.decisions),
        ),
        Step(
            "Leave no stop",
            "mend it, or let a person answer for it by name",
            bool(verdicts)
            and not any(_is_stopped(desk, line_id) for line_id in desk.lines)
            and not any(one.remark.kind in ("stop", "unjudged") for one in of_pages),
        ),
        Step("Prepare the copies", "they go on the pages, not the masters", bool(copies)),
        Step(
            "Save the marked proof",
            "for whoever did not sit here",
            (proof / saving.PAGE).exists(),
        ),
        Step(
            "Pack the copies",
            "with the list of their tickets, for the printer",
            (proof / sending.ZIP).exists(),
        ),
    ]


def _is_stopped(desk: Desk, id: str) -> bool:
    line = desk.lines.get(id)
    verdict = desk.verdict(line) if line else None
    worst = verdict.worst() if verdict else None
    return verdict is None or (worst is not None and worst.value == "stop")


CAUTIONS: Mapping[str, str] = {
    "bleed": "Where the trim runs a hair off, white paper shows along the edge of the whole run.",
    "credit": "A picture printed without its maker’s leave cannot be called back.",
    "foreign-condition": "Inks meant for another paper print too dark or too weak on this one.",
    "grayscale": "What differs in colour alone prints as one gray.",
    "icc-profile": "A wrong space turns every colour of it; only who made it can know.",
    "ink": "More ink than the paper takes does not dry: it rubs off on the facing page.",
    "luminance/blown-highlights": "Where nothing is left, the bare paper shows, with a hard edge.",
    "luminance/too-dark": "Paper is darker than screens: what is nearly black here is black there.",
    "page-inks/spot-ink": "Without its plate the picture loses that ink, or prints it in others.",
    "page-printing/boxes-astray": "Paper is cut by these boxes: a picture may lose an edge by it.",
    "page-printing/no-trim-box": "Whoever cuts the paper guesses where: text and faces may go.",
    "page-printing/other-intent": "Plates made for another press print the whole page otherwise.",
    "resolution": "Coarse pixels show in print and cannot be put right after it.",
    "sharpening": "Sharpened twice, edges get pale rims that print plainer than they look here.",
    "source-profile": "A wrong space turns every colour of it; only who made it can know.",
    "true-resolution": "Enlarged before it came here, it is as soft in print as its first pixels.",
}
"""Rule, or finding -> what a press run pays where its finding is let stand wrongly."""


def caution(finding: str) -> str:
    """Return what letting a finding stand may cost, to be read before it is accepted."""
    cost = CAUTIONS.get(finding) or CAUTIONS.get(finding.partition("/")[0], "")
    return f"{cost} Ask the printer where in doubt: a run is printed once.".strip()
