"""Asking who did something: one of the people of the visit, or a name that was typed with purpose."""

from __future__ import annotations

from commission.errors import VisitError
from commission.screens.forms import Field
from commission.visit.state import name_key
from commission.visit.types import Visit


class Who:
    """The field of a form in which a name stands already, and the look at what it became.

    A name that nobody of the visit has is asked for a second time: it may be a slip of the hand.
    """

    def __init__(self, visit: Visit, label: str, first: str) -> None:
        self._visit = visit
        self._first = first
        self._asked = ""
        self.field = Field("by", label, first, wanted=f"{label}? a name is wanted", replaced=True)

    def named(self, name: str) -> str:
        """Return a name as the visit has it; of nobody of the visit only where it comes a second time.

        Where no name was offered it was asked for plainly, and is taken at once.

        Raises
        ------
        VisitError
            If nobody of the visit has the name and it comes for the first time.
        """
        people = {name_key(person.name): person.name for person in self._visit.people}
        key = name_key(name)
        if not self._first or key in {*people, self._asked}:
            return people.get(key, name)
        self._asked = key
        raise VisitError(
            f"'{name}' is none of the people of this visit ({', '.join(people.values())}): "
            "Enter again if that is the name, else put it right"
        )
