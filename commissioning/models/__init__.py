"""What happened to a position. Each file holds one subject; this page lists them all."""

from commissioning.models.binders import Binder
from commissioning.models.checks import OwnChecks
from commissioning.models.evidence import Record, RecordPhoto, Submission, Supersession
from commissioning.models.issues import AnswerLink, Issue, IssueCheck, IssueEvent
from commissioning.models.own_procedures import OwnProcedures
from commissioning.models.samples import Sample, SampleUnit
from commissioning.models.settings import MappingVersion, SettingsNow, SettingValue
from commissioning.models.signatures import Signature
from commissioning.models.trend_analyses import TrendAnalysis
from commissioning.models.trends import KeptLog, LogMappingVersion, TrendUpload
from commissioning.models.verdicts import CurrentVerdict, JudgedPosition, Judgement, VerdictChange
from commissioning.models.visits import Visit

__all__ = [
    "AnswerLink",
    "Binder",
    "CurrentVerdict",
    "Issue",
    "IssueCheck",
    "IssueEvent",
    "JudgedPosition",
    "Judgement",
    "KeptLog",
    "LogMappingVersion",
    "MappingVersion",
    "OwnChecks",
    "OwnProcedures",
    "Record",
    "RecordPhoto",
    "Sample",
    "SampleUnit",
    "SettingValue",
    "SettingsNow",
    "Signature",
    "Submission",
    "Supersession",
    "TrendAnalysis",
    "TrendUpload",
    "VerdictChange",
    "Visit",
]
