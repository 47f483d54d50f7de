"""Rows of a theatre list held against the record: whose they are, which operation they mean, and what they change.

Nothing is merged that a number, or name and birth date with one thing more, does not settle: the wrong patient is worse
than a question. A list is believed where it says something new; what it said before, and somebody corrected since, it
does not bring back.
"""
