"""The companion of a restorer who films the work: from a shop log and a transcript to what gets published.

The path of an episode is `read → align → draft → review → write`; `pipeline` joins the steps.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
