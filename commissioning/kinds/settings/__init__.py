"""What a controller is set to at one moment: as ordered, as found, as left or later, typed by neutral names."""

from commissioning.dossier.field_record import facts
from commissioning.kinds.settings.measure import VERSION, instruments, measure
from commissioning.kinds.settings.payload import SettingsPayload
from commissioning.kinds.settings.show import headline, show

CODE = "settings"
TITLE = "Controller settings"
Payload = SettingsPayload

__all__ = ["CODE", "TITLE", "VERSION", "Payload", "facts", "headline", "instruments", "measure", "show"]
