"""report-schema: print the JSON Schema of reports."""

from __future__ import annotations

import argparse
from typing import Any

from pressworthy.commands.options import command


def add(choices: Any) -> None:
    command(choices, "report-schema", "print the JSON Schema of reports", _schema)


def _schema(options: argparse.Namespace) -> int:
    import json

    from pressworthy.report.json_report import schema

    print(json.dumps(schema(), indent=2))
    return 0
