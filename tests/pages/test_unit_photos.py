"""Photos that a record names are seen where the record is, by whoever sees the unit, and read back by API."""

import hashlib
from io import BytesIO

import pytest
from PIL import Image

from commissioning.evidence import remake
from commissioning.models import RecordPhoto
from portfolio.blobs.photos import accept_photo
from tests.pages.conftest import Browser
from tests.pages.world import World
from tests.portfolio.photographs import jpeg

pytestmark = pytest.mark.django_db
SHA256 = hashlib.sha256(jpeg()).hexdigest()


@pytest.fixture
def unit(firm: World) -> str:
    firm.measured("ERV-3", name="with a photo", photos=[{"sha256": SHA256, "caption": "Linkage <off> its pin"}])
    return f"/units/{firm.units['ERV-3'].pk}"


def test_the_unit_page_shows_the_photo_and_says_what_it_belongs_to(unit: str, browser: Browser) -> None:
    accept_photo(jpeg())
    page = browser("owner").get(unit).content.decode()
    assert f'<img src="/photos/{SHA256}" alt="Linkage &lt;off&gt; its pin"' in page
    assert "airflow, final" in page.partition("<h2>Photos</h2>")[2].partition("<h2>")[0]


def test_until_its_bytes_arrive_the_page_says_that_it_is_on_the_device(unit: str, browser: Browser) -> None:
    page = browser("owner").get(unit).content.decode()
    assert "A photo that has not arrived yet" in page
    assert "<img" not in page.partition("<h2>Photos</h2>")[2].partition("<h2>")[0]
    assert browser("owner").get(f"/photos/{SHA256}").status_code == 404


@pytest.mark.parametrize("path", [f"/photos/{SHA256}", f"/api/v1/photos/{SHA256}/copy"])
def test_whoever_sees_the_unit_reads_the_copy_and_nobody_else(unit: str, browser: Browser, path: str) -> None:
    accept_photo(jpeg())
    shown = browser("technician").get(path)
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert not Image.open(BytesIO(shown.getvalue())).getexif()
    assert browser("stranger").get(path).status_code == 404


def test_a_photo_that_nothing_names_is_nobodys(firm: World, browser: Browser) -> None:
    accept_photo(jpeg())
    assert browser("lead").get(f"/photos/{SHA256}").status_code == 404


def test_which_photos_a_record_names_is_made_again_from_its_bytes(unit: str) -> None:
    held = list(RecordPhoto.objects.values_list("record_id", "sha256", "caption"))
    remake.records()
    assert held == list(RecordPhoto.objects.values_list("record_id", "sha256", "caption")) != []
