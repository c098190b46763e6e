"""Lasting records: the workshop itself, its people, customers, vehicles and bays."""

from workshop.models.site import (
    Bay,
    Customer,
    LabourRate,
    Person,
    PersonManager,
    Role,
    Site,
    Skill,
)
from workshop.models.vehicles import (
    SHEET_FIELDS,
    TRAILER_BODIES,
    BaseDefinition,
    BodyType,
    Sheet,
    SwitchPosition,
    TypeSheet,
    Vehicle,
)

__all__ = [
    "SHEET_FIELDS",
    "TRAILER_BODIES",
    "BaseDefinition",
    "Bay",
    "BodyType",
    "Customer",
    "LabourRate",
    "Person",
    "PersonManager",
    "Role",
    "Sheet",
    "Site",
    "Skill",
    "SwitchPosition",
    "TypeSheet",
    "Vehicle",
]
