"""The steps, joined: one module for each thing a maker does. The steps know nothing of each other.

read → align → draft → review → write        an episode (`episode`)
ledger → inserts → owed → roundup            a mistake that came to light, until it has reached the viewers
"""
