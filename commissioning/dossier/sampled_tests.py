"""A functional test that a sample of like units stands for: what a unit that was not drawn is given of it.

Units are alike for a test where kind, options, field sensors, the steps that are asked and the settings on which the
test depends are the same, as far as they were read. A unit that is no longer like its group is tested by itself.
While a sample is not through, a unit that is not drawn says what a drawn one says: who knows which are drawn can look
after just these.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from commissioning.dossier import quantities as q
from commissioning.dossier.results import Absence
from commissioning.engineering.acceptance_sampling import least_excluded_defective, sample_plan

MOST = 60
Code = Annotated[str, StringConstraints(min_length=1, max_length=40)]


@dataclass(frozen=True, slots=True)
class SampledTest:
    """`alike` names the group; `state` is that of the group in the sample: stands or failed."""

    procedure: str
    sample: int
    drawn_on: date
    alike: str
    state: str

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "SampledTest":
        on = date.fromisoformat(data["drawn_on"])
        return cls(data["procedure"], data["sample"], on, data["alike"], data["state"])

    def absence(self, alike: str) -> Absence:
        """What a unit says that was not drawn and not tested. `alike` is its group as it is now."""
        named = f"sample {self.sample} of {self.drawn_on.day} {self.drawn_on:%B %Y}"
        if alike != self.alike:
            return Absence("not_due", f"Not drawn, and no longer like its group in {named}: test it.")
        if self.state == "failed":
            return Absence("not_due", f"Not drawn, and {named} is not passed: enlarge it, or test this unit.")
        return Absence("not_given", f"Not drawn: {named} stands for it.")


class SampledTestModel(q.Closed):
    procedure: Code
    sample: Annotated[int, Field(ge=1)]
    drawn_on: q.Day
    alike: Annotated[str, StringConstraints(min_length=8, max_length=64)]
    state: Literal["stands", "failed"]


def why_failed(planned: Mapping[str, Any], plan: Mapping[str, Any], population: int, drawn: int, failures: int) -> str:
    """The first draw fails by the number that was accepted; '' where it does not.

    A larger one has the first failures in it, and is held to what the plan is for: that fewer units differ than the
    share that must be found, at the confidence agreed, were all that is due to agree.
    """
    if planned["whole"] or drawn >= population or not failures:
        return ""
    if not planned["enlargements"]:
        accept = int(plan["accept"])
        return f"more than the {accept} accepted" if failures > accept else ""
    confidence = plan["confidence"]
    wanted = sample_plan(
        population=population, confidence=confidence, largest_defective_share=plan["largest_defective_share"]
    ).defective
    excluded = least_excluded_defective(population=population, sample=drawn, failures=failures, confidence=confidence)
    return f"too many to show that fewer than {wanted} of {population} differ" if excluded > wanted else ""
