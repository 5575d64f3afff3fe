"""Widths on the page's grid.

The office sets its stencils in columns; a picture that is no whole number of them wide leaves a
gap that shows. The placed width is compared with the nearest whole number of columns.

Put it right: place the picture that many columns wide.
"""

from collections.abc import Iterator

from pressworthy.values.finding import Bound, Finding, Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Options, Rule
from pressworthy.values.units import quantity

OPTIONS = {
    "column": quantity("mm", "width of one column of the grid", least=1),
    "slack": quantity("mm", "how far from the grid a width may be", least=0),
}
CODES = {"off-grid": "the width is no whole number of columns"}


def check(picture: Picture, options: Options) -> Iterator[Finding]:
    if picture.placement is None:
        raise Unmeasured("no placed size is known")
    width, column = picture.placement.width, options["column"]
    columns = max(1, round(width / column))
    if abs(width - columns * column) > options["slack"]:
        wanted = columns * column
        remedy = f"Place it {wanted:g} mm wide: {columns} columns."
        yield Finding("off-grid", width, wanted, "mm", remedy, bound=Bound.EXACTLY)


rule = Rule("page-grid", check, OPTIONS, CODES, __doc__)
