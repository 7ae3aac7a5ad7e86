"""Who, where, what was designed. Each file holds one subject; this page lists them all."""

from portfolio.models.audit import AuditEvent
from portfolio.models.blobs import Blob
from portfolio.models.design import DesignEntry, DesignImport, DesignRevision
from portfolio.models.instruments import Calibration, Instrument
from portfolio.models.jobs import Beat, Job
from portfolio.models.logins import LoginTries
from portfolio.models.parties import Company, Firm, Owner, Project, ProjectConventions
from portfolio.models.people import DeviceToken, Membership, Person
from portfolio.models.places import (
    Building,
    Installation,
    Machine,
    Position,
    ServedSpace,
    Site,
    System,
    TagAlias,
)
from portfolio.models.standing import Standing

__all__ = [
    "AuditEvent",
    "Beat",
    "Blob",
    "Building",
    "Calibration",
    "Company",
    "DesignEntry",
    "DesignImport",
    "DesignRevision",
    "DeviceToken",
    "Firm",
    "Installation",
    "Instrument",
    "Job",
    "LoginTries",
    "Machine",
    "Membership",
    "Owner",
    "Person",
    "Position",
    "Project",
    "ProjectConventions",
    "ServedSpace",
    "Site",
    "Standing",
    "System",
    "TagAlias",
]
