"""Who may do what, to whom, at which address: pure tables, used by acts, pages, lists, exports and jobs alike.

    acts        every act, by name
    roles       role × act
    objects     role × act × whose record it is about
    addresses   what each address of the pages is for, and what it answers
    retention   how long a record is kept

Whether a patient is somebody's own is a question to the database: `reads.reach`.
"""

from caseload.access.acts import Act
from caseload.access.roles import ALLOWED, demand, may

__all__ = ["ALLOWED", "Act", "demand", "may"]
