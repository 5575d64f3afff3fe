"""An issue of one small picture, and a printer's profile: for what the house standard is asked."""

from __future__ import annotations

from pathlib import Path

from sheets import TITLE

from pressworthy.testing import CREDITED, draw, write_picture

_CONDITIONS = Path(__file__).parents[2] / "profiles" / "pressworthy_profiles" / "conditions"
ICC = _CONDITIONS / "uncoated" / "cmyk.icc"


def an_issue(folder: Path, name: str = "pier.jpg") -> Path:
    """Make an issue of one small picture that has too few pixels."""
    (folder / "masters").mkdir(parents=True)
    write_picture(folder / "masters" / name, draw(250, 190), words=CREDITED, ppi=300, Q=90)
    rows = f"picture,page,house,width,height\nmasters/{name},4,{TITLE},25,19\n"
    (folder / "issue.csv").write_text(rows, "utf-8")
    return folder
