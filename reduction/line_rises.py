"""The rise by every method that reads it off the two lines, with its uncertainty, in one go."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from reduction import rise
from reduction.rise_uncertainty import Noise, Weights, difference_weights, rise_uncertainty
from reduction.thermogram import Rated

Array = NDArray[np.float64]

READ_AT_A_MOMENT = ("fraction", "fraction_060", "fraction_by_hand", "equal_areas")
LINE_METHODS = (*READ_AT_A_MOMENT, "regnault_pfaundler", "difference")


@dataclass(frozen=True, eq=False)
class LineRises:
    """Rises in the order of LINE_METHODS, arrays of shape (methods, ...), NaN for no answer.

    rise_k [K]; at_s [s after firing], NaN for the last two, which are read at no one moment; u_k
    [K], the standard uncertainty; dof, its degrees of freedom.
    """

    rise_k: Array
    at_s: Array
    u_k: Array
    dof: Array


def line_rises(rated: Rated, noise: Noise) -> LineRises:
    """Every method at once for one run or a batch; the uncertainties share one propagation."""
    read_off = (
        rise.fraction(rated),
        rise.fraction(rated, rise.PHI_FUEL),
        rise.fraction_by_hand(rated),
        rise.equal_areas(rated),
    )
    nowhere = np.full_like(rated.settled_s, np.nan)
    values = [found.rise_k for found in read_off]
    values += [rise.regnault_pfaundler(rated), rise.difference(rated)]
    weights = [found.weights for found in read_off]
    weights.append(rise.regnault_pfaundler_weights(rated))
    weights.append(difference_weights(rated.fore, rated.after, rated.settled_s))
    u_k, dof = rise_uncertainty(rated.fore, rated.after, _stack(weights), noise)
    at_s = np.array([*(found.at_s for found in read_off), nowhere, nowhere])
    return LineRises(np.array(values), at_s, u_k, dof)


def _stack(weights: list[Weights]) -> Weights:
    """The weights of several methods, shape (methods, ...)."""
    names = [field.name for field in fields(Weights)]
    return Weights(*(np.array([getattr(w, name) for w in weights]) for name in names))
