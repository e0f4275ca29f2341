"""Captions as IMSC 1.1 Text (W3C TTML Profiles for Internet Media Subtitles and Captions 1.1).

Two regions that do not meet: speech at the bottom, inserts at the top. A line takes about 8 % of the
picture's height (BBC Subtitle Guidelines, 3.3), so that each region has room for four.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from reelnotes.records import frozen
from reelnotes.timing import format_exact
from reelnotes.write.plain import one_line, referenced

_HEAD = """\
<?xml version="1.0" encoding="UTF-8"?>
<tt xmlns="http://www.w3.org/ns/ttml" xmlns:tts="http://www.w3.org/ns/ttml#styling" \
xmlns:ttp="http://www.w3.org/ns/ttml#parameter" xml:lang="" \
ttp:contentProfiles="http://www.w3.org/ns/ttml/profile/imsc1.1/text">
  <head>
    <styling>
      <style xml:id="text" tts:fontFamily="proportionalSansSerif" tts:fontSize="100%" tts:lineHeight="120%" \
tts:textAlign="center" tts:color="#FFFFFF"/>
      <style xml:id="words" tts:backgroundColor="#000000C8"/>
      <style xml:id="signal" tts:backgroundColor="#000000C8" tts:fontWeight="bold"/>
    </styling>
    <layout>
      <region xml:id="insert" tts:origin="10% 5%" tts:extent="80% 40%" tts:displayAlign="before"/>
      <region xml:id="speech" tts:origin="10% 55%" tts:extent="80% 40%" tts:displayAlign="after"/>
    </layout>
  </head>
  <body style="text">
    <div>
"""
_FOOT = """\
    </div>
  </body>
</tt>
"""


@frozen
class Shown:
    """Lines in one of the two regions; a signal word stands above them, in bold."""

    start_ms: int
    end_ms: int
    lines: tuple[str, ...]
    region: Literal["speech", "insert"] = "speech"
    signal: str = ""


def imsc_text(shown: Iterable[Shown]) -> str:
    """Write an IMSC 1.1 Text document; every paragraph has a begin and an end on the media's clock.

    The language is left open (`xml:lang=""`): nobody has told us in which one the maker speaks.
    """
    paragraphs = [_paragraph(one) for one in sorted(shown, key=lambda one: (one.start_ms, one.region))]
    return _HEAD + "".join(paragraphs) + _FOOT


def _paragraph(shown: Shown) -> str:
    lines = [
        f'<span style="words">{referenced(words)}</span>' for line in shown.lines if (words := one_line(line))
    ]
    if shown.signal:
        lines.insert(0, f'<span style="signal">{referenced(shown.signal)}</span>')
    if not lines:
        return ""
    end = max(shown.end_ms, shown.start_ms + 1)
    times = f'begin="{format_exact(shown.start_ms)}" end="{format_exact(end)}"'
    return f'      <p region="{shown.region}" {times}>{"<br/>".join(lines)}</p>\n'
