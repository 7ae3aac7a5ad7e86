"""Airflow of a unit by port: what a technician sends, what it amounts to, how it is shown."""

from commissioning.dossier.field_record import facts
from commissioning.kinds.airflow.measure import VERSION, instruments, measure
from commissioning.kinds.airflow.payload import AirflowPayload
from commissioning.kinds.airflow.show import headline, show

CODE = "airflow"
TITLE = "Airflow"
Payload = AirflowPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
