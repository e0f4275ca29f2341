"""What was said in a cue, without the markup of caption files."""

from __future__ import annotations

import re

#: Tags of WebVTT and of common practice in SubRip, times inside the words, and `{\an8}` and its like.
#: A `<` that opens none of these is left alone: it may well be a size that somebody compared.
_MARKUP = re.compile(
    r"</?(?:[cibusvp]|br|em|rt|rp|div|font|lang|ruby|span|strong)(?:[.\s/][^<>]*)?>|<[\d:.]+>|\{\\[^{}]*\}",
    re.IGNORECASE,
)
_INVISIBLE = dict.fromkeys(map(ord, "\u200b\u200e\u200f\u2060\ufeff"))


def plain_words(text: str) -> str:
    """Give the words of a cue on one line: no tags, character references written out, single spaces.

    Non-speech such as `[Music]` stays: what it is worth is for the steps behind the readers to say.
    """
    if "<" in text or "{" in text:
        text = _MARKUP.sub(_gap, text)
    if "&" in text:
        from html import unescape

        text = unescape(text)
    if not text.isascii():
        text = text.translate(_INVISIBLE)
    return " ".join(text.split())


def _gap(match: re.Match[str]) -> str:
    return " " if match[0][1:3].lower() == "br" else ""
