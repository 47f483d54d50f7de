"""The record as files that a person can read without the planner."""
