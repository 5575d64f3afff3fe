"""A level sea.

A horizon that leans makes a reader tilt the head. The strongest straight line across the picture
is found and its angle measured; pictures without one are unmeasured.

Put it right: turn the picture on a copy before it is cropped.
"""

from collections.abc import Iterator

from pressworthy.values.finding import Bound, Finding
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity
from saltgrid.horizon import lean

OPTIONS = {"most": quantity("deg", "how far the horizon may lean", least=0, most=8)}
CODES = {"leaning": "the horizon leans"}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    angle = lean(picture)
    if abs(angle) > options["most"]:
        way = "clockwise" if angle < 0 else "anticlockwise"
        remedy = f"Turn it {abs(angle):g} degrees {way}."
        yield Finding("leaning", abs(angle), options["most"], "deg", remedy, bound=Bound.MOST)


rule = Rule("level-horizon", check, OPTIONS, CODES, __doc__)
