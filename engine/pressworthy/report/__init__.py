"""What the formats of a report are; each renders the one Report value."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from pressworthy.hookspecs import hookimpl


@hookimpl
def pressworthy_report_formats() -> Mapping[str, Callable[[Any], Iterable[str]]]:
    from pressworthy.report import json_report, junit, lines, sarif, text_report

    return {
        "text": text_report.render,
        "json": json_report.render,
        "lines": lines.render,
        "junit": junit.render,
        "sarif": sarif.render,
    }
