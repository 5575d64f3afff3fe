"""Speed and weight of the marked proof, by hand:

    .venv/bin/python tests/benchmarks/proof.py [PICTURES]

Draws PICTURES (40) masters of 150 x 105 mm at 300 ppi, proofs them with every processor, and prints
seconds and the bytes of the heaviest picture and of the page.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from pressworthy import jobs
from pressworthy.house import load_house
from pressworthy.jobs.proofing import proof
from pressworthy.jobs.running import workers
from pressworthy.plugins import load
from pressworthy.prepare.charts import dead_leaves
from pressworthy.report import marked_proof
from pressworthy.testing import CREDITED, write_picture
from pressworthy.values.placement import PlacementRequest


def main() -> None:
    """Print the figures."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    registry = load()
    house = load_house("coated-magazine", registry)
    with tempfile.TemporaryDirectory() as folder:
        scene = np.clip(dead_leaves(1772, 1240, seed=1), 0, 255).astype(np.uint8)
        tasks = []
        for number in range(count):
            path = Path(folder) / f"{number}.jpg"
            write_picture(path, np.roll(scene, 40 * number, axis=1), words=CREDITED)
            tasks.append(jobs.Task(path, PlacementRequest()))
        start = time.perf_counter()
        sheet = proof(tasks, house, jobs.Run(registry))
        page = marked_proof.render([sheet])
        seconds = time.perf_counter() - start
    parts = [
        (*one.views.values(), *one.overlays.values(), *one.close.values()) for one in sheet.pulls
    ]
    heaviest = max(sum(map(len, part)) for part in parts) * 4 / 3 / 1000
    print(
        f"{count} pictures on {workers.cores()} processors: {seconds:.0f} s; "
        f"heaviest picture {heaviest:.0f} kB as base64, page {len(page) / 1e6:.1f} MB"
    )


if __name__ == "__main__":
    main()
