"""The forms on which a unit is recorded: one line for each kind gives it its route and its link on the unit page."""

from commissioning.pages.field import FieldPage
from commissioning.pages.field_checklist import ChecklistPage
from commissioning.pages.field_electrical import ElectricalPage
from commissioning.pages.field_exchanger import ExchangerPage
from commissioning.pages.field_outlets import OutletsPage
from commissioning.pages.field_page import RecordPage
from commissioning.pages.field_pressure import PressurePage
from commissioning.pages.field_settings import SettingsPage
from commissioning.pages.field_startup import StartupPage
from commissioning.pages.field_test_run import FunctionalTestPage

FORMS: tuple[type[RecordPage], ...] = (
    ChecklistPage,
    StartupPage,
    FieldPage,
    OutletsPage,
    PressurePage,
    ElectricalPage,
    ExchangerPage,
    SettingsPage,
    FunctionalTestPage,
)
