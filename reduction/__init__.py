"""What the readings of a combustion run mean: the corrected rise and all that follows from it.

The one door is `reduction.reduce_run.reduce_run`; `python -m reduction` is the same door for
scripts. The version is raised whenever any number given for the same input may change.
"""

from reduction.errors import InputError, ReductionError

__version__ = "0.1.0"

__all__ = ["InputError", "ReductionError", "__version__"]
