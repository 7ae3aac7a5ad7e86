"""What was taken over whole from elsewhere is what its makers published, with its licence."""

import hashlib
from pathlib import Path

VENDOR = Path(__file__).parents[2] / "portfolio/static/portfolio/vendor"


def test_each_file_taken_over_has_the_hash_that_was_written_down() -> None:
    pairs = (line.split("  ") for line in (VENDOR / "SHA256SUMS").read_text().splitlines())
    listed = {name: sha256 for sha256, name in pairs}
    held = {one.name: hashlib.sha256(one.read_bytes()).hexdigest() for one in VENDOR.iterdir()}
    del held["SHA256SUMS"]
    assert held == listed
    assert any(name.endswith("LICENSE.txt") for name in listed)
