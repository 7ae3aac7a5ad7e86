"""Photos: the original bytes are evidence and stay as they came; what is shown is a copy without where and by what.

Only JPEG and PNG, told by their first bytes and decoded in full. A drawing that can hold scripts is no photo.
"""

import warnings
from io import BytesIO

from PIL import Image, ImageOps

from portfolio.blobs.store import keep, read_blob
from portfolio.models import Blob

MAX_BYTES = 15 * 1024 * 1024
MAX_PIXELS = 50_000_000
VIEW_SIDE = 2000
_MAGIC = {b"\xff\xd8\xff": ("JPEG", "image/jpeg"), b"\x89PNG\r\n\x1a\n": ("PNG", "image/png")}


class PhotoRefused(Exception):
    """Not taken as a photo; `code` and `reason` go to who sent it."""

    def __init__(self, code: str, reason: str) -> None:
        super().__init__(reason)
        self.code = code
        self.reason = reason


def accept_photo(data: bytes) -> Blob:
    """Keep the original bytes of a photo, or raise `PhotoRefused`."""
    if len(data) > MAX_BYTES:
        raise PhotoRefused("too_large", f"A photo has at most {MAX_BYTES // (1024 * 1024)} MB.")
    known = [kind for magic, kind in _MAGIC.items() if data.startswith(magic)]
    if not known:
        raise PhotoRefused("not_a_photo", "A photo is a JPEG or a PNG file.")
    form, media_type = known[0]
    _decoded(data, form).close()
    return keep(data, media_type)


def view_copy(original: Blob) -> Blob:
    """The copy for looking at: upright, at most 2000 pixels wide or high, without any metadata. Made once."""
    if original.view is not None:
        return original.view
    form = "PNG" if original.media_type == "image/png" else "JPEG"
    with _decoded(read_blob(original.sha256), form) as photo:
        upright = ImageOps.exif_transpose(photo).convert("RGB")
        upright.thumbnail((VIEW_SIDE, VIEW_SIDE))
        bare = Image.new("RGB", upright.size)
        bare.paste(upright)
    out = BytesIO()
    bare.save(out, "JPEG", quality=85)
    copy = keep(out.getvalue(), "image/jpeg")
    Blob.objects.filter(pk=original.pk).update(view=copy)
    return copy


def _decoded(data: bytes, form: str) -> Image.Image:
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            photo = Image.open(BytesIO(data), formats=[form])
            if photo.width * photo.height > MAX_PIXELS:
                raise PhotoRefused("too_many_pixels", f"A photo has at most {MAX_PIXELS // 1_000_000} million pixels.")
            photo.load()
        except (Image.DecompressionBombWarning, Image.DecompressionBombError):
            raise PhotoRefused("too_many_pixels", "A photo has at most 50 million pixels.") from None
        except (OSError, ValueError, SyntaxError, EOFError, MemoryError):
            raise PhotoRefused("not_a_photo", "The file cannot be read to its end as a photo.") from None
    return photo
