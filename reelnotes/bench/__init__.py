"""Bench arithmetic: how wood moves, where pulls sit, what a coat covers, how a mix is made."""
