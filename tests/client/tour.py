"""A tour of a demonstration with a client that was generated from the description of the API.

    tour.py http://127.0.0.1:8080

Logs in, imports a table of plants and reads the results of a show, through the generated functions alone: what they
cannot say, the description does not say. Fails at the first answer that is not what it should be.
"""

import sys

from storksbill_client import AuthenticatedClient, Client
from storksbill_client.api.cultivars import get_cultivars
from storksbill_client.api.plants import get_plants, post_plants_import
from storksbill_client.api.sessions import post_sessions
from storksbill_client.api.shows import get_shows, get_shows_show_id_results
from storksbill_client.models import LogIn, Problem, ShowState
from storksbill_client.types import File

PASSWORD = "nine small red pots"


def good(answer, status):
    """What was answered, which must have come with this status and be of the type that the description gives."""
    assert answer.status_code == status, f"{answer.status_code}: {answer.content[:500]}"
    assert answer.parsed is not None and not isinstance(answer.parsed, Problem), answer.content[:500]
    return answer.parsed


def table(*lines):
    return File(payload="\n".join(lines).encode())


def main(address):
    visitor = Client(base_url=address)
    refused = post_sessions.sync_detailed(
        client=visitor, body=LogIn(email="member@merrow.example", password="not the password")
    )
    assert refused.status_code == 401 and isinstance(refused.parsed, Problem), refused
    assert refused.parsed.code.value == "wrong-credentials", refused.parsed
    tokens = good(
        post_sessions.sync_detailed(
            client=visitor, body=LogIn(email="member@merrow.example", password=PASSWORD)
        ),
        201,
    )
    member = AuthenticatedClient(base_url=address, token=tokens.access_token)

    cultivars = good(get_cultivars.sync_detailed(client=member, limit=2), 200).items
    head = "cultivar_id,how_many,environment,form,label"
    lines = [f"{one.id},1,frost_free,bush,tour {place}" for place, one in enumerate(cultivars)]
    wrong = post_plants_import.sync_detailed(client=member, body=table(head, f"{cultivars[0].id},none,cellar,,"))
    assert wrong.status_code == 422 and isinstance(wrong.parsed, Problem), wrong
    assert any(error.pointer == "line 2" for error in wrong.parsed.errors), wrong.parsed.errors
    dry = good(
        post_plants_import.sync_detailed(client=member, body=table(head, *lines), dry_run=True), 200
    )
    assert (dry.created, dry.dry_run) == (len(lines), True), dry
    before = owned(member)
    for _ in range(2):
        # The same table under one key is taken once.
        done = good(
            post_plants_import.sync_detailed(
                client=member, body=table(head, *lines), idempotency_key="tour-of-the-client"
            ),
            200,
        )
        assert (done.created, done.dry_run) == (len(lines), False), done
    after = owned(member)
    assert len(after) == len(before) + len(lines), (len(before), len(after))
    assert {f"tour {place}" for place in range(len(lines))} <= set(after.values())

    shows = good(get_shows.sync_detailed(client=visitor, limit=200), 200).items
    final = [show for show in shows if show.state == ShowState.FINAL]
    assert final, [show.state for show in shows]
    results = good(get_shows_show_id_results.sync_detailed(final[0].id, client=visitor), 200)
    placed = [line for one in results.results.classes for line in one.lines if line.place == 1]
    assert placed, "nobody won anything at a show that is over"
    print(
        f"{len(lines)} plants imported into {len(before)}; {final[0].name}: "
        f"{len(results.results.classes)} classes, {len(placed)} firsts"
    )


def owned(member):
    """Ids of the member's plants with their labels, page by page."""
    found, cursor = {}, None
    while True:
        more = {"cursor": cursor} if cursor else {}
        page = good(get_plants.sync_detailed(client=member, limit=200, **more), 200)
        found.update({plant.id: plant.label for plant in page.items})
        cursor = page.next_cursor
        if not cursor:
            return found


if __name__ == "__main__":
    main(sys.argv[1])
