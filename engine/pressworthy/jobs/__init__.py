"""The jobs over many pictures: each is handed what to do, a house profile and the run.

check, prepare, proof, pages: the jobs; run: what they are handed; running: how they run; gathering:
the report they end in; accepting: what persons accepted, laid over it.
"""

from pressworthy.jobs.accepting import accepted, let_stand, with_tones
from pressworthy.jobs.checking import check, check_picture
from pressworthy.jobs.gathering import joined
from pressworthy.jobs.pages import (
    check_pages,
    check_places,
    known_files,
    listed_pages,
    placed_by_house,
    placed_on,
)
from pressworthy.jobs.preparing import barred, orders, prepare, prepare_copy, vouched
from pressworthy.jobs.proofing import Proofed, proof, proof_picture
from pressworthy.jobs.run import Progress, Run
from pressworthy.jobs.tasks import LIST, LIST_CODES, Task, listed

__all__ = [
    "LIST",
    "LIST_CODES",
    "Progress",
    "Proofed",
    "Run",
    "Task",
    "accepted",
    "barred",
    "check",
    "check_pages",
    "check_picture",
    "check_places",
    "joined",
    "known_files",
    "let_stand",
    "listed",
    "listed_pages",
    "orders",
    "placed_by_house",
    "placed_on",
    "prepare",
    "prepare_copy",
    "proof",
    "proof_picture",
    "vouched",
    "with_tones",
]
