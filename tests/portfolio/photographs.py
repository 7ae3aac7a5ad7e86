"""Pictures made on the spot."""

from io import BytesIO

from PIL import Image


def jpeg(width: int = 40, height: int = 30, *, with_place: bool = False) -> bytes:
    out = BytesIO()
    exif = Image.Exif()
    if with_place:
        exif[0x010F] = "Secret maker"
        exif[0x8825] = {1: "N", 2: (39.0, 44.0, 0.0)}
    Image.new("RGB", (width, height), (90, 120, 150)).save(out, "JPEG", exif=exif)
    return out.getvalue()


def png(width: int = 40, height: int = 30) -> bytes:
    out = BytesIO()
    Image.new("L", (width, height), 128).save(out, "PNG")
    return out.getvalue()


def noisy(form: str, side: int = 60) -> bytes:
    """A picture whose file is long enough to be cut in its middle."""
    out = BytesIO()
    Image.effect_noise((side, side), 80).save(out, form)
    return out.getvalue()
