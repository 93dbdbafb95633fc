"""What the bench keeps in rows: checks, reports, jobs, parts and care, with the catalogue of faults they speak of."""

from fleet.workshop.models.agreed import Invoice, NotDone, OtherQuote
from fleet.workshop.models.care import Care
from fleet.workshop.models.checks import CheckPhotograph, ConditionCheck, ConditionCheckQuerySet, Finding
from fleet.workshop.models.jobs import JobStep, PartUsed, RepairJob, RepairJobQuerySet
from fleet.workshop.models.labour import LabourPrice, Sitting, WorkOrdered
from fleet.workshop.models.parts import Part, PartQuerySet
from fleet.workshop.models.reports import FaultReport, FaultReportQuerySet

__all__ = [
    "Care",
    "CheckPhotograph",
    "ConditionCheck",
    "ConditionCheckQuerySet",
    "FaultReport",
    "FaultReportQuerySet",
    "Finding",
    "Invoice",
    "JobStep",
    "LabourPrice",
    "NotDone",
    "OtherQuote",
    "Part",
    "PartQuerySet",
    "PartUsed",
    "RepairJob",
    "RepairJobQuerySet",
    "Sitting",
    "WorkOrdered",
]
