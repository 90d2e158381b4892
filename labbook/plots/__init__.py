"""Arrays in, figure out. No database, and no colour: each mark names its role in the plot."""

from labbook.plots.history import history
from labbook.plots.methods import method_rows
from labbook.plots.replicates import replicates
from labbook.plots.thermogram import thermogram
from labbook.plots.trace import trace

__all__ = ["history", "method_rows", "replicates", "thermogram", "trace"]
