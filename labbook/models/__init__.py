"""What is stored: one module per kind of record."""

from .benches import Bench, BenchConfiguration, Part
from .courses import Group, Membership, Method, Person, Section, Term
from .decisions import Decision
from .materials import AidLot, FuseLot, StandardLot, TitrantLot
from .people import Account, Role
from .readings import LoggerFile, ReadingBlock, ReadingStrike
from .rereductions import Rereduction, RereductionItem
from .results import Result
from .runs import Run, SheetEntry
from .samples import Sample, Substance
from .standardizations import Standardization

__all__ = [
    "Account",
    "AidLot",
    "Bench",
    "BenchConfiguration",
    "Decision",
    "FuseLot",
    "Group",
    "LoggerFile",
    "Membership",
    "Method",
    "Part",
    "Person",
    "ReadingBlock",
    "ReadingStrike",
    "Rereduction",
    "RereductionItem",
    "Result",
    "Role",
    "Run",
    "Sample",
    "Section",
    "SheetEntry",
    "StandardLot",
    "Standardization",
    "Substance",
    "Term",
    "TitrantLot",
]
