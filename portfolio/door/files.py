"""Serving kept files: as an attachment, or as a picture in a page, and never as something that a browser would run."""

import re

from django.http import FileResponse

from portfolio.blobs.store import BlobUnusable, open_blob
from portfolio.door.problems import Problem
from portfolio.models import Blob

_PICTURES = {"image/jpeg", "image/png"}


def serve(blob: Blob, *, name: str, inline: bool = False) -> FileResponse:
    """The file under `name`. Ask for permission first; the hash is compared before the first byte leaves.

    `inline` holds for pictures only. What is damaged is a 500 that says so, and never served as good.
    """
    try:
        file = open_blob(blob.sha256)
    except BlobUnusable as fault:
        raise Problem(500, "file_damaged", "The kept file is damaged", f"{fault.sha256}: {fault.why}.") from fault
    safe_name = re.sub(r"[^\w .()-]", "_", name)[:120] or "file"
    as_picture = inline and blob.media_type in _PICTURES
    response = FileResponse(file, as_attachment=not as_picture, filename=safe_name, content_type=blob.media_type)
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "sandbox; default-src 'none'"
    response["Cache-Control"] = "no-store"
    return response
