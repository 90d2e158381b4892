"""What is stored: one module per kind of record."""

from .afternoons import Attendance, BenchPreparation, Handover
from .around_firing import FiringCheck, Happening, NoteAnswer
from .bench_log import BenchEvent, ServicePlan
from .benches import Bench, BenchConfiguration, Part
from .courses import Group, Membership, Method, Person, Section, Term, Unlock
from .decisions import Decision
from .devices import Device, DeviceSeries, ReadingToken
from .evidence import Book, Link
from .hand_figures import HandFigure, HandFiguresSaved, LiteratureValue
from .handing_in import Descriptor, HandIn, Mark, MarkScheme, MarksGivenOut, SharedHandIn
from .history import Exclusion, FrozenLimits, PhaseBreak
from .materials import AidLot, FuseLot, StandardLot, TitrantLot
from .people import Account, Role
from .readings import FileChoices, LoggerFile, ReadingBlock, ReadingStrike
from .rereductions import Rereduction, RereductionItem
from .results import Result
from .runs import Run, SheetEntry
from .samples import Sample, SampleIssue, Substance
from .standardizations import Standardization
from .turnover import LegalHold, Purge, RosterImport, TermClosing
from .upkeep import Upkeep

__all__ = [
    "Account",
    "AidLot",
    "Attendance",
    "Bench",
    "BenchConfiguration",
    "BenchEvent",
    "BenchPreparation",
    "Book",
    "Decision",
    "Descriptor",
    "Device",
    "DeviceSeries",
    "Exclusion",
    "FileChoices",
    "FiringCheck",
    "FrozenLimits",
    "FuseLot",
    "Group",
    "HandFigure",
    "HandFiguresSaved",
    "HandIn",
    "Handover",
    "Happening",
    "LegalHold",
    "Link",
    "LiteratureValue",
    "LoggerFile",
    "Mark",
    "MarkScheme",
    "MarksGivenOut",
    "Membership",
    "Method",
    "NoteAnswer",
    "Part",
    "Person",
    "PhaseBreak",
    "Purge",
    "ReadingBlock",
    "ReadingStrike",
    "ReadingToken",
    "Rereduction",
    "RereductionItem",
    "Result",
    "Role",
    "RosterImport",
    "Run",
    "Sample",
    "SampleIssue",
    "Section",
    "ServicePlan",
    "SharedHandIn",
    "SheetEntry",
    "StandardLot",
    "Standardization",
    "Substance",
    "Term",
    "TermClosing",
    "TitrantLot",
    "Unlock",
    "Upkeep",
]
