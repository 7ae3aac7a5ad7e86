"""Limits on the deviation from design, as a document states them."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q

Text = Annotated[str, StringConstraints(max_length=400)]


class ToleranceModel(q.Closed):
    """Limits on the deviation from design as fractions of design; null is a side without a limit."""

    low: Annotated[q.Number, Field(ge=-1.0, le=1.0)] | None
    high: Annotated[q.Number, Field(ge=-1.0, le=5.0)] | None
    clause: Text = ""
    rounding: Literal["none", "percent_1"] = "none"

    @model_validator(mode="after")
    def _a_side(self) -> "ToleranceModel":
        if self.low is None and self.high is None:
            raise ValueError("a tolerance needs a lower or an upper side")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError("the lower side lies above the upper side")
        return self
