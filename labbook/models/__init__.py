"""What is stored: one module per kind of record."""

from .around_firing import FiringCheck, Happening, NoteAnswer
from .bench_log import BenchEvent, ServicePlan
from .benches import Bench, BenchConfiguration, Part
from .courses import Group, Membership, Method, Person, Section, Term
from .decisions import Decision
from .devices import Device, DeviceSeries
from .history import Exclusion, FrozenLimits, PhaseBreak
from .materials import AidLot, FuseLot, StandardLot, TitrantLot
from .people import Account, Role
from .readings import FileChoices, LoggerFile, ReadingBlock, ReadingStrike
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
    "BenchEvent",
    "Decision",
    "Device",
    "DeviceSeries",
    "Exclusion",
    "FileChoices",
    "FiringCheck",
    "FrozenLimits",
    "FuseLot",
    "Group",
    "Happening",
    "LoggerFile",
    "Membership",
    "Method",
    "NoteAnswer",
    "Part",
    "Person",
    "PhaseBreak",
    "ReadingBlock",
    "ReadingStrike",
    "Rereduction",
    "RereductionItem",
    "Result",
    "Role",
    "Run",
    "Sample",
    "Section",
    "ServicePlan",
    "SheetEntry",
    "StandardLot",
    "Standardization",
    "Substance",
    "Term",
    "TitrantLot",
]
