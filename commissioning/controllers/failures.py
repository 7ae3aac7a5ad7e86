"""Why a controller could not be read: one reason for the whole, or one for each object."""

from collections.abc import Sequence

from commissioning.dossier.problem import Problem


class NotRead(Exception):
    """Nothing of this reading may be kept."""

    def __init__(self, reason: str, remedy: str, problems: Sequence[Problem] = ()) -> None:
        super().__init__(reason)
        self.reason, self.remedy, self.problems = reason, remedy, tuple(problems)


class Silent(NotRead):
    """No answer came, however often it was asked."""
