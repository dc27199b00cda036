"""``results.json`` held against the JSON Schema that is shipped with the report."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from jsonschema import Draft202012Validator

SCHEMA = json.loads(
    files("kikichoko.panel.report").joinpath("templates", "results.schema.json").read_text("utf-8")
)


def faults(results: dict[str, Any]) -> list[str]:
    """Name what a results.json has that the schema forbids, or lacks."""
    found = Draft202012Validator(SCHEMA).iter_errors(results)
    return [f"{'/'.join(map(str, one.path))}: {one.message[:120]}" for one in found]
