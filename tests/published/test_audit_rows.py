"""Row G01 of the checks: view, edit, override and export as audit events with agent, instant, action, entity, outcome.

Against HL7 FHIR R4 (4.0.1), AuditEvent: its required elements and value sets. From memory.
"""

import json
from datetime import UTC, datetime

import pytest

from caseload.access import Act
from caseload.access.audit import KINDS, LISTED, LOOKED, TAKEN_AWAY, Action, Outcome, kind_of, kind_of_look
from caseload.access.audit_event import Row, audit_event

ACTIONS = {"C", "R", "U", "D", "E"}
"""http://hl7.org/fhir/ValueSet/audit-event-action"""
OUTCOMES = {"0", "4", "8", "12"}
"""http://hl7.org/fhir/ValueSet/audit-event-outcome"""
TYPES = {
    "110100", "110101", "110102", "110103", "110104", "110105", "110106", "110107", "110108", "110109", "110110",
    "110111", "110112", "110113", "110114",
}  # fmt: skip
"""The kinds of event of DICOM (PS3.16, CID 400), which http://hl7.org/fhir/ValueSet/audit-event-type takes in."""
SUBTYPES = {str(number) for number in range(110120, 110143)}
"""PS3.16, CID 401."""
AT = datetime(2026, 4, 1, 9, 0, 0, 5, tzinfo=UTC)
WHO = {"agent": "tm1", "name": "Thea Marsh", "origin": "192.0.2.7"}
VIEW = Row("looks-1", AT, LOOKED, "looked at", **WHO, patient="p1", subject="episode")
EDIT = Row("entries-1", AT, KINDS[Act.EPISODE_CORRECT], "facts corrected", **WHO, patient="p1", subject="episode/1",
           changed={"surgery_on": ["2026-03-20", "2026-03-23"]})  # fmt: skip
OVERRIDE = Row("entries-2", AT, KINDS[Act.PATIENT_OPEN], "opened", **WHO, patient="p1", subject="patient/1", why="rang")
EXPORT = Row("looks-2", AT, TAKEN_AWAY, "taken away", **WHO, subject="caseload", rows=12)
PLANNED = Row("entries-3", AT, KINDS[Act.EPISODES_REDERIVE], "derived", origin="background", subject="episode/1")


def test_the_codes_are_those_of_the_published_value_sets():
    assert {str(action) for action in Action} == ACTIONS and {str(outcome) for outcome in Outcome} <= OUTCOMES


def test_every_act_has_a_kind_with_published_codes():
    assert KINDS.keys() == set(Act)
    assert {kind.type.code for kind in KINDS.values()} <= TYPES
    assert {kind.subtype.code for kind in KINDS.values() if kind.subtype} <= SUBTYPES


@pytest.mark.parametrize(
    ("act", "action"),
    [
        (Act.PATIENT_ADD, "C"), (Act.VISIT_RECORD, "C"), (Act.APPOINTMENT_BOOK, "C"), (Act.EPISODE_CORRECT, "U"),
        (Act.APPOINTMENT_MOVE, "U"), (Act.FINDING_CORRECT, "U"), (Act.RECORD_REMOVE, "D"), (Act.CLOSURE_REMOVE, "D"),
        (Act.LIST_EXPORT, "R"), (Act.PATIENT_OPEN, "R"), (Act.TRAIL_READ, "R"), (Act.SIGN_IN, "E"),
    ],
)  # fmt: skip
def test_an_act_is_told_by_what_it_does_to_the_record(act, action):
    assert kind_of(act).action == action


def test_an_act_that_is_not_known_here_is_still_told():
    assert kind_of("unheard.of").action == "E"


@pytest.mark.parametrize(
    ("row", "action", "type"),
    [(VIEW, "R", "110110"), (EDIT, "U", "110110"), (OVERRIDE, "R", "110113"), (EXPORT, "R", "110106"),
     (PLANNED, "U", "110110")],
)  # fmt: skip
def test_agent_instant_action_entity_and_outcome_are_there(row, action, type):
    event = json.loads(json.dumps(audit_event(row, "Fernhollow Hand Clinic")))
    assert (event["resourceType"], event["recorded"]) == ("AuditEvent", "2026-04-01T09:00:00.000005Z")
    assert (event["action"], event["type"]["code"], event["outcome"]) == (action, type, "0")
    assert all(isinstance(agent["requestor"], bool) and agent["who"] for agent in event["agent"])
    assert event["source"]["observer"] and event["entity"]
    assert all({"what", "name"} & entity.keys() and entity["type"]["code"] for entity in event["entity"])


def test_a_person_is_named_with_their_network_address_and_the_planner_without():
    person, planner = (audit_event(row, "x")["agent"][0] for row in (EDIT, PLANNED))
    assert person["network"] == {"address": "192.0.2.7", "type": "2"} and person["who"]["identifier"]["value"] == "tm1"
    assert "network" not in planner and planner["type"]["coding"][0]["code"] == "dataprocessor"


def test_a_record_that_was_opened_with_a_reason_says_so():
    event = audit_event(OVERRIDE, "x")
    assert event["subtype"][0]["code"] == "110127"
    assert event["purposeOfEvent"][0]["coding"][0]["code"] == "BTG" and event["purposeOfEvent"][0]["text"] == "rang"


def test_what_was_changed_and_how_many_rows_a_list_had_are_details():
    details = {detail["type"]: detail["valueString"] for row in (EDIT, EXPORT, PLANNED)
               for detail in audit_event(row, "x")["entity"][-1]["detail"]}  # fmt: skip
    assert details == {"surgery_on": '["2026-03-20", "2026-03-23"]', "rows": "12", "origin": "background"}


def test_a_refused_sign_in_did_not_succeed():
    assert audit_event(Row("entries-4", AT, KINDS[Act.SIGN_IN_REFUSED], "refused"), "x")["outcome"] == "4"


def test_looking_is_told_apart_from_searching_taking_away_and_reading_the_trail():
    assert kind_of_look("episode", of_patient=True, taken_away=False) == LOOKED
    assert kind_of_look("caseload", of_patient=False, taken_away=False) == LISTED
    assert kind_of_look("caseload", of_patient=False, taken_away=True) == TAKEN_AWAY
    assert kind_of_look("trail", of_patient=True, taken_away=False).type.code == "110101"
