"""Pictures drawn by code for the demonstration: the invented places and people of Slack Tide.

Every scene is a function of width and height in pixels and a seed. It returns (height, width, 3)
float32, sRGB-encoded, 0..1. The composition lives in scene units: y runs from 0 at the top to 1
at the bottom, x is 0 in the middle, and the full view is ten units wide to seven high; other
proportions see a central crop. Light is added up linearly and encoded once, at the end.
"""

from collections.abc import Callable

from scenes.chapel import chapel
from scenes.drawing.view import Array
from scenes.fog import fog
from scenes.harbour import harbour
from scenes.lighthouse import lighthouse
from scenes.market import market
from scenes.oranges import oranges
from scenes.portrait import portrait
from scenes.quilt import quilt
from scenes.reeds import reeds
from scenes.workshop import workshop

SCENES: dict[str, Callable[..., Array]] = {
    "portrait": portrait,
    "harbour": harbour,
    "lighthouse": lighthouse,
    "fog": fog,
    "market": market,
    "oranges": oranges,
    "quilt": quilt,
    "reeds": reeds,
    "chapel": chapel,
    "workshop": workshop,
}
