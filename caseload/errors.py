"""The one way in which the planner says no to a person."""


class Refusal(Exception):
    """A domain rule refused what was asked.

    `code` is stable and meant for tests and callers; `message` is a sentence for staff that says what is wrong
    and what would be right; `details` are values that a page may use (a field name, a conflicting row).
    """

    def __init__(self, code: str, message: str, **details: object) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.details = details
