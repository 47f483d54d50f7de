"""One row of the trail as an AuditEvent of HL7 FHIR R4 (4.0.1), in plain JSON values.

Everything is said by opaque codes and by the names of staff; no name of a patient stands in it. Source of the
structure and of the code systems named here: HL7 FHIR R4, AuditEvent. From memory.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from ipaddress import ip_address
from typing import Any, Final

from caseload.access.audit import OVERRIDE, Code, Kind

DICOM: Final = "http://dicom.nema.org/resources/ontology/DCM"
ENTITY: Final = "http://terminology.hl7.org/CodeSystem/audit-entity-type"
ROLE: Final = "http://terminology.hl7.org/CodeSystem/object-role"
AGENT: Final = "http://terminology.hl7.org/CodeSystem/extra-security-role-type"
SOURCE: Final = "http://terminology.hl7.org/CodeSystem/security-source-type"
REASON: Final = "http://terminology.hl7.org/CodeSystem/v3-ActReason"
PERSON, SYSTEM_OBJECT = ("1", "Person"), ("2", "System Object")
PATIENT, DOMAIN_RESOURCE, QUERY = ("1", "Patient"), ("4", "Domain Resource"), ("24", "Query")
HUMAN, MACHINE = ("humanuser", "human user"), ("dataprocessor", "data processor")
SERVER, BREAK_GLASS = ("4", "Application Server"), ("BTG", "break the glass")
IP_ADDRESS: Final = "2"
PLANNER: Final = "Caseload planner"


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the trail. `key` names it (`entries-12`); `agent` and `name` are empty where the planner itself acted;
    `patient` is a code; `subject` is what it was done to (`episode/12`) or which page was looked at; `said` the act in
    words; `rows` how many rows a list had; `changed` is {field: [was, now]}.
    """

    key: str
    at: datetime
    kind: Kind
    said: str
    agent: str = ""
    name: str = ""
    origin: str = ""
    why: str = ""
    patient: str = ""
    subject: str = ""
    rows: int = 0
    changed: Mapping[str, Any] | None = None


def audit_event(row: Row, service: str) -> dict[str, Any]:
    """The row as the JSON object of an AuditEvent; `service` names the service whose trail it is."""
    event = {
        "resourceType": "AuditEvent",
        "id": row.key,
        "type": _coding(DICOM, row.kind.type),
        "action": str(row.kind.action),
        "recorded": instant(row.at),
        "outcome": str(row.kind.outcome),
        "outcomeDesc": row.said,
        "agent": [_agent(row)],
        "source": {"site": service, "observer": {"display": PLANNER}, "type": [_coding(SOURCE, SERVER)]},
        "entity": list(_entities(row)),
    }
    if row.kind.subtype:
        event["subtype"] = [_coding(DICOM, row.kind.subtype)]
    if row.why:
        event["purposeOfEvent"] = [_purpose(row)]
    return event


def instant(at: datetime) -> str:
    """An instant as FHIR writes it and as seals hold it, in universal time to the millionth of a second."""
    return f"{at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec='microseconds')}Z"


def address_of(origin: str) -> str:
    """The origin where it is a network address; empty where it is a command or a job."""
    try:
        return str(ip_address(origin))
    except ValueError:
        return ""


def _coding(system: str, code: tuple[str, str] | Code) -> dict[str, str]:
    return {"system": system, "code": code[0], "display": code[1]}


def _agent(row: Row) -> dict[str, Any]:
    who = {"identifier": {"value": row.agent}, "display": row.name} if row.agent else {"display": PLANNER}
    kind = {"coding": [_coding(AGENT, HUMAN if row.agent else MACHINE)]}
    agent: dict[str, Any] = {"type": kind, "who": who, "name": row.name or PLANNER, "requestor": True}
    if address := address_of(row.origin):
        agent["network"] = {"address": address, "type": IP_ADDRESS}
    return agent


def _purpose(row: Row) -> dict[str, Any]:
    purpose: dict[str, Any] = {"text": row.why}
    if row.kind.subtype == OVERRIDE or row.key.startswith("looks"):
        purpose["coding"] = [_coding(REASON, BREAK_GLASS)]
    return purpose


def _entities(row: Row) -> Iterator[dict[str, Any]]:
    """The patient whose record it is, and what was done to what."""
    if row.patient:
        whose = {"reference": f"Patient/{row.patient}"}
        yield {"what": whose, "type": _coding(ENTITY, PERSON), "role": _coding(ROLE, PATIENT)}
    role = QUERY if row.rows else DOMAIN_RESOURCE
    entity: dict[str, Any] = {"type": _coding(ENTITY, SYSTEM_OBJECT), "role": _coding(ROLE, role)}
    entity["name"] = row.subject or PLANNER
    if detail := list(_details(row)):
        entity["detail"] = detail
    yield entity


def _details(row: Row) -> Iterator[dict[str, str]]:
    if row.rows:
        yield {"type": "rows", "valueString": str(row.rows)}
    if row.origin and not address_of(row.origin):
        yield {"type": "origin", "valueString": row.origin}
    for field, values in (row.changed or {}).items():
        yield {"type": field, "valueString": json.dumps(values, ensure_ascii=False)}
