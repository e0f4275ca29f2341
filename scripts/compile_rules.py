"""Compile the rule texts of reading for risk into the one table that is read at run time.

    python scripts/compile_rules.py

After that, train the reader again (scripts/train_reader.py): the word groups are among its features.
"""

from __future__ import annotations

from pathlib import Path

from reelnotes.risk.rules import rules_json

if __name__ == "__main__":
    target = Path(__file__).resolve().parent.parent / "reelnotes" / "risk" / "rules.json"
    target.write_text(rules_json(), encoding="utf-8")
    print(f"{target.name}: {target.stat().st_size} bytes")
