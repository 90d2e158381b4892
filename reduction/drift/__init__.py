"""A bench against its own past: limits that few values can carry, and what happened when it moved.

`judge_all` tells how benches stand; `find_break` and `common_cause` what happened; `charts` are
the textbook charts, whose false alarms `false_alarm_rate` gives.
"""

from reduction.drift.bands import Band, band
from reduction.drift.breaks import Break, find_break
from reduction.drift.common_cause import (
    Change,
    CommonCause,
    change_across,
    change_along,
    common_cause,
)
from reduction.drift.false_alarms import false_alarm_rate
from reduction.drift.judging import Judgement, Phase, judge, judge_all
from reduction.drift.pooling import (
    UNKNOWN,
    Scatter,
    pooled,
    scatter_about_mean,
    scatter_of_differences,
    shared,
)
from reduction.drift.scheme import Baseline, Rules

__all__ = [
    "UNKNOWN",
    "Band",
    "Baseline",
    "Break",
    "Change",
    "CommonCause",
    "Judgement",
    "Phase",
    "Rules",
    "Scatter",
    "band",
    "change_across",
    "change_along",
    "common_cause",
    "false_alarm_rate",
    "find_break",
    "judge",
    "judge_all",
    "pooled",
    "scatter_about_mean",
    "scatter_of_differences",
    "shared",
]
