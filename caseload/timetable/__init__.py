"""The heart: facts, rules and a calendar in; what is due when, and what the hand may do, out. No Django, no clock."""
