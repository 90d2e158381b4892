"""The working: a result written out step by step, so that a calculator arrives at the same digits.

`working` turns what went into a reduction and what came out of it into `Step`s in the order a
handbook takes them. It reduces nothing itself: the results are the kept ones, and each formula
worked out from the numbers shown must give them.
"""

from typing import Any

from reduction.inputs import RunInputs
from reduction.working.capacity import write_energy
from reduction.working.ledger import Ledger, Source, Step, closed
from reduction.working.moles import write_moles
from reduction.working.rises import write_rise

__all__ = ["PARTS", "Source", "Step", "working"]

PARTS = {
    "lines": "The drift lines",
    "rise": "The corrected rise",
    "heats": "The heats",
    "capacity": "The heat capacity",
    "combustion": "Per gram",
    "moles": "Per mole",
    "literature": "Against the literature",
}
"""The parts of a working in their order, with their headings."""


def working(inputs: RunInputs, reduction: dict[str, Any]) -> tuple[Step, ...]:
    """The steps from the readings to the results kept in `reduction`, those that apply.

    `reduction` is `Reduction.as_dict()` of the same inputs. A substance that is not given, because
    its identity is hidden, leaves the energy of combustion per gram as the last step.
    """
    ledger = Ledger(inputs, reduction)
    rise = write_rise(ledger)
    write_energy(ledger, rise)
    write_moles(ledger)
    return closed(ledger.steps)
