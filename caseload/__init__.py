"""A caseload and appointment planner for hand therapy after trigger finger release."""
