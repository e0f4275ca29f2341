"""draft.json keeps its published contract."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import get_type_hints

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Draft, Spending
from reelnotes.write import contract
from reelnotes.write.draft_json import draft_json, draft_record
from reelnotes.write.json_text import json_text

ROOT = Path(__file__).resolve().parents[2]
SCHEMAS = ROOT / "docs" / "schemas"
RECORDS = [
    (contract.DraftRecord, ()),
    (contract.StepRecord, ("steps", 0)),
    (contract.StepSpanRecord, ("steps", 0, "spans", 0)),
    (contract.ChapterRecord, ("chapters", 0)),
    (contract.MaterialRecord, ("materials", 0)),
    (contract.SpokenOnlyRecord, ("spoken_only", 0)),
    (contract.PromiseRecord, ("promises", 0)),
    (contract.FlagRecord, ("flags", 0)),
    (contract.SpanRecord, ("flags", 2, "places", 0)),
    (contract.DismissedRecord, ("dismissed", 0)),
    (contract.ProblemRecord, ("problems", 0)),
    (contract.ClockOffsetRecord, ("clock_offset_s",)),
]


def validator() -> jsonschema.Draft202012Validator:
    """Give a validator for the published schema."""
    return jsonschema.Draft202012Validator(json.loads((SCHEMAS / "draft-1.json").read_text("utf-8")))


@pytest.mark.parametrize(("record", "path"), RECORDS)
def test_every_key_of_the_contract_is_written_and_no_other(
    draft: Draft, record: type, path: tuple[str | int, ...]
) -> None:
    """Contract and writer name the same keys in the same order."""
    value = json.loads(draft_json(draft))
    for key in path:
        value = value[key]
    assert sorted(value) == sorted(get_type_hints(record))


def test_drafts_are_valid_by_the_published_schema(draft: Draft) -> None:
    """A full draft and an empty one validate with jsonschema."""
    for one in (draft, Draft("a", "A", 0)):
        assert list(validator().iter_errors(json.loads(draft_json(one)))) == []


@pytest.mark.parametrize(
    ("key", "value"),
    [("schema", "reelnotes/draft-2"), ("duration_s", -1), ("steps", None), ("flags", [{"id": "a"}])],
)
def test_the_schema_would_notice(draft: Draft, key: str, value: object) -> None:
    """A wrong version, a negative time, a missing list and half a flag are refused."""
    assert not validator().is_valid({**json.loads(draft_json(draft)), key: value})


def test_money_has_two_decimals_and_is_exact(draft: Draft) -> None:
    """11.80 stands as 11.80, 4.8 as 4.80, and a tenth of a cent is not made up."""
    text = draft_json(replace(draft, spending=Spending(draft.spending.materials, total=Decimal("0.1"))))
    assert '"total_cost": 0.10' in text
    assert '"cost": 4.80' in text
    assert json.loads(text, parse_float=Decimal)["materials"][2]["cost"] == Decimal("7.00")


def test_times_are_seconds_to_the_millisecond(draft: Draft) -> None:
    """35,040 ms are 35.04 s, and no binary dust hangs on."""
    assert '"start_s": 35.04,' in draft_json(draft)
    assert '"end_s": 97.999,' in draft_json(draft)


def test_the_same_draft_gives_the_same_bytes(draft: Draft) -> None:
    """Nothing depends on the day, the machine or the order of a set."""
    assert draft_json(draft) == draft_json(replace(draft))


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters()),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=20,
)


@settings(max_examples=60, deadline=None)
@given(json_values)
def test_json_reads_back_with_the_json_module(value: object) -> None:
    """Any value comes back through Python's reader, lone surrogates too, and the text is UTF-8."""
    assert json.loads(json_text(value).encode()) == value


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN"), {1, 2}])
def test_json_refuses_what_it_cannot_hold(value: object) -> None:
    """No other program could read NaN."""
    with pytest.raises((ValueError, TypeError)):
        json_text(value)


def test_short_records_stay_on_one_line() -> None:
    """A record of 110 characters stays whole, one of 111 is opened."""
    assert json_text({"a": "x" * 100}).count("\n") == 1
    assert json_text({"a": "x" * 104}).count("\n") == 3


def test_the_published_schemas_are_up_to_date() -> None:
    """`scripts/make_schemas.py` would write what lies there."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "make_schemas.py"), "--check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_record_is_made_without_pydantic() -> None:
    """Drafting costs no schema library."""
    code = "import sys, reelnotes.write.outputs; sys.exit('pydantic' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
    assert draft_record(Draft("a", "A", 0))["schema"] == "reelnotes/draft-1"
