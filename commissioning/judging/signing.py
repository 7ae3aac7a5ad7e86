"""What a signature for a unit holds: each judgement by its hash, what was accepted as it is, what waits for a season.

Pure: the same from the rows of a server and from the frozen document of a binder.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from commissioning.dossier.canonical import canonical_json, sha256_hex

SCHEMA = "ventfolio/signed/1"
TESTS = "functional_tests"  # its ports are procedures

Key = tuple[str, str]  # requirement, port


def statement(
    judgements: Iterable[tuple[str, str, str, str]], accepted: Collection[Key], deferred: Collection[str]
) -> dict[str, Any]:
    """Of (requirement, port, outcome, hash of the result), in one order.

    >>> statement([("one_session", "", "conforms", "ab")], {("gone", "")}, ())["accepted"]
    []
    """
    held = sorted(judgements)
    there = {(requirement, port) for requirement, port, _, _ in held}
    names = ("requirement", "port", "outcome", "sha256")
    return {
        "schema": SCHEMA,
        "judgements": [dict(zip(names, one, strict=True)) for one in held],
        "accepted": [{"requirement": requirement, "port": port} for requirement, port in sorted(there & set(accepted))],
        "deferred": sorted(deferred),
    }


def lines_of(judgements: Iterable[Mapping[str, Any]]) -> list[tuple[str, str, str, str]]:
    """Of judgements in a document's form: what `statement` takes."""
    return [
        (
            one["requirement"],
            one["port"],
            one["verdict"] if one["verdict"] is not None else one["absence"]["code"],
            sha256_hex(canonical_json(one)),
        )
        for one in judgements
    ]


def hash_of(said: Mapping[str, Any]) -> str:
    return sha256_hex(canonical_json(said))


def differing(signed: Mapping[str, Any], now: Mapping[str, Any]) -> list[Key]:
    """What is judged otherwise, or accepted otherwise, than when it was signed."""
    before, after = _by_key(signed), _by_key(now)
    return sorted(key for key in before.keys() | after.keys() if before.get(key) != after.get(key))


def _by_key(said: Mapping[str, Any]) -> dict[Key, tuple[str, bool]]:
    accepted = {(one["requirement"], one["port"]) for one in said["accepted"]}
    return {
        (one["requirement"], one["port"]): (one["sha256"], (one["requirement"], one["port"]) in accepted)
        for one in said["judgements"]
    }


def is_deferred(judgement: Mapping[str, Any]) -> bool:
    """Whether a functional test's last word is that the season, or the building, does not allow it yet.

    >>> is_deferred({"requirement": TESTS, "verdict": None, "absence": {"code": "not_due"},
    ...              "facts": {"runs": [{"outcome": "aborted"}, {"outcome": "deferred"}]}})
    True
    """
    if judgement["requirement"] != TESTS or judgement["verdict"] is not None:
        return False
    runs = judgement["facts"].get("runs") or [{}]
    return bool(judgement["absence"]["code"] == "not_due" and runs[-1].get("outcome") == "deferred")
