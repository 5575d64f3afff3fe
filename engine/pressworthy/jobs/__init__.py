"""The jobs over many pictures: each is handed what to do, a house profile and the run.

check, prepare, proof, pages, drawing: the jobs; run: what they are handed; running: how they run;
gathering: the report they end in; accepting: what persons accepted, laid over it. Whoever needs
copies, pages or proofs names that module: loading them would be a third of every start.
"""

from pressworthy.jobs.accepting import accepted, judged_here, let_stand, with_tones
from pressworthy.jobs.checking import check, check_picture
from pressworthy.jobs.gathering import joined
from pressworthy.jobs.run import Progress, Run
from pressworthy.jobs.tasks import LIST, LIST_CODES, Task, listed

__all__ = [
    "LIST",
    "LIST_CODES",
    "Progress",
    "Run",
    "Task",
    "accepted",
    "check",
    "check_picture",
    "joined",
    "judged_here",
    "let_stand",
    "listed",
    "with_tones",
]
