"""Ids for requests that are made up from the description of the API.

A request with an id that nobody has gets no further than the door. So the server is first walked: every read is asked
whose ids are known by then, and what its answers call `id` or `…_id` is kept under the name that addresses and bodies
give it. Most ids in made-up requests are then of records that are there.

BASE is the server's address, TOKENS the access tokens to walk with, SEED what is drawn from.
"""

import json
import os
import random
import re
import urllib.error
import urllib.request

import schemathesis

BASE = os.environ["BASE"]
DRAW = random.Random(int(os.environ.get("SEED", "11")))
UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
# So many ids of a kind are enough, and so many rounds: each finds what hangs on what the last one found.
ENOUGH = 40
ROUNDS = 4
# Names that bodies have for what addresses call otherwise.
ALSO = {
    "source_plant_id": "plant_id",
    "source_member_id": "member_id",
    "owner_id": "member_id",
    "raiser_id": "member_id",
    "worked_by": "member_id",
    "seed_parent_id": "cultivar_id",
    "pollen_parent_id": "cultivar_id",
    "source_id": "cultivar_id",
    "reverts_to_id": "cultivar_id",
    "into": "cultivar_id",
    "from_show_id": "show_id",
    "requested_club_id": "club_id",
    "other_id": "individual_id",
    "germplasmDbId": "cultivar_id",
}


def asked(path, token):
    request = urllib.request.Request(BASE + path)
    if token:
        request.add_header("Authorization", f"Bearer {token}")
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return json.load(answer) if "json" in answer.headers.get("Content-Type", "") else None
    except urllib.error.HTTPError:
        return None


def kept(known, name, value):
    name = ALSO.get(name, name)
    if isinstance(value, str) and UUID.fullmatch(value):
        ids = known.setdefault(name, [])
        if value not in ids and len(ids) < ENOUGH:
            ids.append(value)


def gathered(known, answer, own):
    """Keeps the ids of an answer; `own` is what its records are called."""
    if isinstance(answer, dict):
        for name, value in answer.items():
            kept(known, own if name == "id" and own else name, value)
            gathered(known, value, own if name == "items" else None)
    elif isinstance(answer, list):
        for value in answer:
            gathered(known, value, own)


def walked():
    known = {}
    tokens = [token for token in os.environ.get("TOKENS", "").split() if token]
    paths = asked("/openapi.json", None)["paths"]
    reads = [path for path, item in paths.items() if "get" in item and path.startswith("/api/v1/")]
    called = {}
    for path in paths:
        if match := re.fullmatch(r"(.*)/\{(\w+)\}", path):
            called[match[1]] = match[2]
    for _ in range(ROUNDS):
        for path in reads:
            names = re.findall(r"\{(\w+)\}", path)
            if all(known.get(name) for name in names):
                address = path
                for name in names:
                    address = address.replace("{" + name + "}", DRAW.choice(known[name]))
                for token in tokens:
                    # What is listed at an address is called as the address of one of it says.
                    own = called.get(path) or (names[-1] if path.endswith("}") else None)
                    gathered(known, asked(address, token), own)
        known["individual_id"] = (known.get("cultivar_id", []) + known.get("seedling_id", []))[:ENOUGH]
    return known


KNOWN = walked()
print("ids: " + ", ".join(f"{name} {len(ids)}" for name, ids in sorted(KNOWN.items())))
for needed in ("club_id", "cultivar_id", "plant_id", "cross_id", "show_id", "member_id", "entry_id", "ring_id"):
    assert KNOWN.get(needed), f"the walk found no {needed}"


def one(name):
    ids = KNOWN.get(ALSO.get(name, name))
    return DRAW.choice(ids) if ids else None


def filled(value):
    if isinstance(value, dict):
        for name, inner in list(value.items()):
            if isinstance(inner, str) and (name.endswith("_id") or name in ALSO) and DRAW.random() < 0.9:
                value[name] = one(name) or inner
            else:
                filled(inner)
    elif isinstance(value, list):
        for inner in value:
            filled(inner)
    return value


@schemathesis.hook
def map_path_parameters(context, value):
    for name in list(value or {}):
        if DRAW.random() < 0.93:
            value[name] = one(name) or value[name]
    return value


@schemathesis.hook
def map_query(context, value):
    return filled(value)


@schemathesis.hook
def map_body(context, value):
    return filled(value) if isinstance(value, (dict, list)) else value


@schemathesis.hook
def map_headers(context, value):
    if value and "If-Match" in value and DRAW.random() < 0.9:
        value["If-Match"] = "*"
    return value
