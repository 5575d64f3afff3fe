"""A page as PDF, printed by Chromium through the page's own print style."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from pressworthy.prepare.store import put, why
from pressworthy.values.faults import SetupError

NAMES = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "microsoft-edge",
)  # fmt: skip
"""What the Chromium family is called in PATH."""

MACOS = tuple(
    Path(f"/Applications/{name}.app/Contents/MacOS/{name}")
    for name in ("Chromium", "Google Chrome", "Microsoft Edge")
)
WINDOWS = (
    "Chromium/Application/chrome.exe",
    "Google/Chrome/Application/chrome.exe",
    "Microsoft/Edge/Application/msedge.exe",
)
"""Where installers put it, under one of the folders that `WINDOWS_ROOTS` name."""

WINDOWS_ROOTS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")
SECONDS = 300
FLAGS = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--no-first-run",
    "--no-pdf-header-footer",
)


def find_browser() -> str:
    """Return the path of a browser of the Chromium family, from PATH or where each system keeps it.

    Raises SetupError with what to install.
    """
    for name in NAMES:
        if in_path := shutil.which(name):
            return in_path
    roots = [Path(root) for name in WINDOWS_ROOTS if (root := os.environ.get(name))]
    for path in (*MACOS, *(root / relative for root in roots for relative in WINDOWS)):
        if path.is_file():
            return str(path)
    raise SetupError(
        [
            "--format pdf prints the page through Chromium, which is not installed; install it "
            "(Debian and Ubuntu: apt install chromium; macOS and Windows: Chrome or Edge serve as "
            "well), or open the page in any browser and print"
        ]
    )


def print_page(browser: str, page: str, target: Path) -> None:
    """Print the HTML text `page` to the PDF file `target`, whole or not at all.

    Raises SetupError where the browser fails.
    """
    # Chromium's sandbox refuses to run as root; the page itself loads and runs nothing foreign
    sandbox = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    # Windows deletes no file that a process of the browser still holds
    scratch = tempfile.TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True)
    with scratch as folder:
        source, printed = Path(folder) / "page.html", Path(folder) / "page.pdf"
        source.write_text(page, "utf-8")
        call = [
            browser,
            *FLAGS,
            *sandbox,
            f"--user-data-dir={folder}/profile",
            f"--print-to-pdf={printed}",
            source.as_uri(),
        ]
        try:
            done = subprocess.run(call, capture_output=True, timeout=SECONDS, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise SetupError([f"{browser} did not print the page: {error}"]) from None
        data = printed.read_bytes() if printed.exists() else b""
    if not data.rstrip().endswith(b"%%EOF"):
        last = done.stderr.decode(errors="replace").strip().splitlines()[-1:] or ["no reason given"]
        raise SetupError([f"{browser} did not print the page: {last[0]}"])
    try:
        put(data, target)
    except OSError as error:
        raise SetupError([f"{target}: {why(error)}"]) from None
