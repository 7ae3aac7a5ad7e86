"""The published schemas, made from the models that read: `python -m commissioning.judging.schemas DIRECTORY`."""

import json
import sys
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from commissioning.dossier.document_model import JudgingDocumentModel
from commissioning.dossier.envelope import Frame
from commissioning.judging.registry import KINDS
from commissioning.judging.result_model import JudgementsModel

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schemas() -> dict[str, dict[str, Any]]:
    """Each file's name and its schema."""
    made: dict[str, type[BaseModel]] = {
        "judge.json": JudgingDocumentModel,
        "judgements.json": JudgementsModel,
        "envelope.json": Frame,
        **{f"payload-{code}.json": kind.Payload for code, kind in KINDS.items()},
    }
    return {
        name: {"$schema": DIALECT, **model.model_json_schema(by_alias=True, mode="validation")}
        for name, model in made.items()
    }


def text_of(schema: dict[str, Any]) -> str:
    return json.dumps(schema, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def write(directory: Path) -> None:
    directory.mkdir(parents=True, exist_ok=True)
    for name, schema in schemas().items():
        (directory / name).write_text(text_of(schema), encoding="utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
