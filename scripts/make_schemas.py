"""Write the JSON Schemas in docs/schemas/ from the models; with --check, say whether they are up to date."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from reelnotes.settings import EpisodeSettings, WorkshopSettings
from reelnotes.write.contract import DraftRecord, KeptTables
from reelnotes.write.insert_contract import InsertsRecord
from reelnotes.write.json_text import json_text
from reelnotes.write.roundup_contract import RoundupRecord
from reelnotes.write.version_contract import VersionTable

SCHEMAS = Path(__file__).resolve().parents[1] / "docs" / "schemas"
#: File name -> the model it is made from, and whether names beyond the model's are mistakes.
MODELS: dict[str, tuple[Any, bool]] = {
    "draft-1.json": (DraftRecord, False),
    "episode-1.json": (EpisodeSettings, True),
    "inserts-1.json": (InsertsRecord, True),
    "kept-1.json": (KeptTables, True),
    "roundup-1.json": (RoundupRecord, True),
    "version-1.json": (VersionTable, True),
    "workshop-1.json": (WorkshopSettings, True),
}


def schema_text(name: str) -> str:
    """Give the text of a schema (JSON Schema, draft 2020-12)."""
    model, closed = MODELS[name]
    schema = TypeAdapter(model).json_schema()
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": name}
    if closed:
        for table in (schema, *schema.get("$defs", {}).values()):
            table["additionalProperties"] = False
    return json_text({**head, **_without_titles(schema)})


def _without_titles(schema: Any) -> Any:  # noqa: ANN401 - any part of a schema
    """Drop the titles that only repeat a name; a property that is itself called `title` stays."""
    if isinstance(schema, list):
        return [_without_titles(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    kept = {key: value for key, value in schema.items() if key != "title" or not isinstance(value, str)}
    return {key: _without_titles(value) for key, value in kept.items()}


def main() -> int:
    """Write or check; exit code 1 where a schema is not what the models say."""
    texts = {name: schema_text(name) for name in MODELS}
    if "--check" not in sys.argv[1:]:
        SCHEMAS.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (SCHEMAS / name).write_text(text, encoding="utf-8")
        return 0
    kept = {path.name: path.read_text(encoding="utf-8") for path in SCHEMAS.glob("*.json")}
    stale = sorted(name for name in texts.keys() | kept.keys() if texts.get(name) != kept.get(name))
    for name in stale:
        print(f"docs/schemas/{name} is not what the models say; run scripts/make_schemas.py")
    return int(bool(stale))


if __name__ == "__main__":
    sys.exit(main())
