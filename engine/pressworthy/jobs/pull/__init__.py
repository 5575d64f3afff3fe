"""A pull: one picture as the marked proof shows it, in small pictures and figures.

The word is the trade's for a trial impression. `value` is the pull itself, `making` makes it from
a checked picture; `views`, `overlays`, `close_ups` and `contrast` are its parts, `encoded` puts
pictures into bytes.
"""

from pressworthy.jobs.pull.close_ups import DOTS_MM, SCREEN_PPI
from pressworthy.jobs.pull.encoded import MOST_PULL_BYTES
from pressworthy.jobs.pull.making import pull
from pressworthy.jobs.pull.value import Pull
from pressworthy.jobs.pull.views import BINS

__all__ = ["BINS", "DOTS_MM", "MOST_PULL_BYTES", "SCREEN_PPI", "Pull", "pull"]
