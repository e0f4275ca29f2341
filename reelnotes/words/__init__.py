"""The trade's words: tokens and stems, the lexicon, amounts and prices in free text, products by any name."""
