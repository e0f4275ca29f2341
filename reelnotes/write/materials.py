"""The list of materials as CSV and as a Markdown table."""

from __future__ import annotations

from reelnotes.model import Draft, Material, Purchase
from reelnotes.timing import format_time
from reelnotes.write.plain import amount_text, in_cents, money_text, number_text, one_line
from reelnotes.write.table_text import csv_text, markdown, markdown_table

_CSV_HEADER = ("name", "amount", "unit", "cost", "currency", "kind", "said_at", "entries", "given")


def materials_csv(draft: Draft) -> str:
    """Write one row a material; unknown amounts and costs are empty, entries are counted from 1.

    `said_at` is `H:MM:SS`, which spreadsheets take for a time of the right length.
    """
    return csv_text(_CSV_HEADER, [_csv_row(material) for material in draft.spending.materials])


def _csv_row(material: Material) -> tuple[str, ...]:
    return (
        one_line(material.name),
        "" if material.amount is None else number_text(material.amount),
        one_line(material.unit or ""),
        "" if material.cost is None else str(in_cents(material.cost)),
        material.currency,
        one_line(material.kind),
        "" if material.said_at_ms is None else clock_text(material.said_at_ms),
        " ".join(str(entry + 1) for entry in material.entries),
        "yes" if material.given else "no",
    )


def clock_text(ms: int) -> str:
    """Write `H:MM:SS`, hours always: a spreadsheet reads `9:12` as hours and minutes."""
    return format_time(ms) if ms >= 3_600_000 else f"0:{format_time(ms).zfill(5)}"  # noqa: PLR2004


def materials_markdown(draft: Draft) -> str:
    """Write the materials as a Markdown table with what they add up to, and what is still unclear beneath."""
    spending = draft.spending
    rows = [
        (
            one_line(m.name) + (" (given)" if m.given else ""),
            amount_text(m.amount, one_line(m.unit or "")),
            money_text(m.cost, m.currency or draft.currency),
            "" if m.said_at_ms is None else format_time(m.said_at_ms),
        )
        for m in spending.materials
    ]
    lines = [f"# Materials: {markdown(one_line(draft.title))}\n"]
    if rows:
        lines.append(markdown_table(("Material", "Amount", "Cost", "Said at"), rows, right=(1, 2, 3)))
    else:
        lines.append("Nothing from the shelf was used.\n")
    lines += [f"{line}\n" for line in _sums(draft)]
    return "\n".join(lines)


def _noted_price(one: Purchase, currency: str) -> str:
    """Give a price of the log with what it is for, and a word where it is not held against the budget."""
    word = {"earned": " (earned)", "food": " (food, does not count)", "tool": " (tool, does not count)"}
    return f"{one_line(one.name) or 'unnamed'} {money_text(one.price, currency)}{word.get(one.kind, '')}"


def _sums(draft: Draft) -> list[str]:
    spending = draft.spending
    unpriced = sum(m.cost is None for m in spending.materials)
    lines = []
    if spending.total is not None:
        rest = f", {unpriced} without a cost not counted" if unpriced else ""
        lines.append(f"Together: {markdown(money_text(spending.total, draft.currency))}{rest}")
    if spending.bought:
        noted = ", ".join(_noted_price(one, draft.currency) for one in spending.bought)
        lines.append(f"Noted in the log: {markdown(noted)}")
    if spending.budget is not None:
        paid = spending.against_budget != spending.total
        what = "what the log says was paid" if paid else "what the parts used cost"
        against = money_text(spending.against_budget, draft.currency)
        held = f"; held against it: {what}, {against}, {'over' if spending.over_budget else 'within'} it"
        budget = money_text(spending.budget, draft.currency)
        lines.append(f"Budget: {markdown(budget + (held if spending.against_budget is not None else ''))}")
    if spending.spoken_only:
        named = ", ".join(f"{one_line(s.name)} ({format_time(s.said_at_ms)})" for s in spending.spoken_only)
        lines.append(f"Spoken of, not used: {markdown(named)}")
    if spending.unlisted:
        lines.append(f"Not on the shelf: {markdown(', '.join(map(one_line, spending.unlisted)))}")
    return lines
