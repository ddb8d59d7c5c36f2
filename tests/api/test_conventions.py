"""What every answer keeps to, whatever it is about: where it is, what its bytes are, how often it may be asked."""

import gzip
from base64 import b64encode
from datetime import date
from hashlib import sha256
from typing import Any

import pytest

from service.api.endings import ENDINGS, Ending, describe
from service.api.rates import Rates
from tests import makers
from tests.conftest import Api

ONE_ENGINE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def _digest(content: bytes) -> str:
    return f"sha-256=:{b64encode(sha256(content).digest()).decode()}:"


@ONE_ENGINE
def test_an_answer_is_sent_short_to_who_takes_it_and_says_the_digest_of_what_is_sent(api: Api) -> None:
    part = makers.laid_up_part(api)
    path = "/v1/calculations"
    plain = api.call("GET", path)
    short = api.call("GET", path, Accept_Encoding="gzip, br;q=0.5")
    assert "Content-Encoding" not in plain.headers
    assert short.headers["Content-Encoding"] == "gzip"
    assert len(short.data) < len(plain.data)
    assert gzip.decompress(short.data) == plain.data
    assert plain.headers["Vary"] == short.headers["Vary"] == "Accept-Encoding"
    for answer in (plain, short, api.call("GET", "/v1/parts/P99999X"), api.call("POST", "/v1/holds", {})):
        assert answer.headers["Repr-Digest"] == _digest(answer.data), answer.request.path
    # Shortened it is the same answer in other bytes, and the tag is understood as it comes back.
    assert short.headers["ETag"] == f"W/{plain.headers['ETag']}"
    assert api.call("GET", path, If_None_Match=short.headers["ETag"]).status_code == 304
    assert api.call("GET", path, Accept_Encoding="gzip;q=0").data == plain.data
    # The digest of a record stands on its paper, and a document is named by its own: they come as they are.
    record = api.call("GET", f"/v1/parts/{part}/record", Accept_Encoding="gzip")
    assert "Content-Encoding" not in record.headers
    assert len(record.data) > 1500
    assert record.headers["Repr-Digest"] == _digest(record.data)
    text = b"date;value\n" * 500
    made = api.call("POST", "/v1/documents?name=log.csv", text, Content_Type="text/csv")
    kept = api.call("GET", made.headers["Location"], Accept_Encoding="gzip")
    assert (kept.data, kept.headers["Repr-Digest"]) == (text, _digest(text))


@ONE_ENGINE
def test_a_key_that_asks_too_often_waits_and_each_answer_says_what_is_left(api: Api) -> None:
    api.client.application.extensions["rates"] = Rates(3)
    answers = [api.call("GET", "/v1/me") for _ in range(4)]
    assert [a.status_code for a in answers] == [200, 200, 200, 429]
    assert [a.headers["RateLimit"] for a in answers[:3]] == ['"key";r=2;t=20', '"key";r=1;t=40', '"key";r=0;t=60']
    late: Any = answers[3]
    assert late.headers["RateLimit-Policy"] == '"key";q=3;w=60'
    assert 0 < int(late.headers["Retry-After"]) <= 20
    assert late.get_json()["type"] == "/problems/too-many-requests"
    assert "If-None-Match" in late.get_json()["way_out"]
    assert api.call("GET", "/v1/me", who="lead").status_code == 200, "another key has its own"


@ONE_ENGINE
def test_a_route_that_is_to_go_says_since_when_until_when_and_what_takes_its_place(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(2):
        makers.started_part(api, need_g=None)
    usual = api.call("GET", "/v1/parts?limit=1")
    assert not {"Deprecation", "Sunset"} & set(usual.headers.keys())
    with pytest.raises(ValueError, match="not 364 days"):
        Ending(date(2027, 1, 1), date(2027, 12, 31), "/v1/items")
    ending = Ending(date(2027, 1, 1), date(2028, 1, 1), "/v1/items")
    monkeypatch.setitem(ENDINGS, "list_parts", ending)
    answer = api.call("GET", "/v1/parts?limit=1")
    # RFC 9745: a date of structured fields; RFC 8594: a date of HTTP, the first moment at which it may be gone.
    assert (answer.headers["Deprecation"], answer.headers["Sunset"]) == ("@1798761600", "Sun, 02 Jan 2028 00:00:00 GMT")
    links = ", ".join(answer.headers.getlist("Link"))
    assert {'</v1/items>; rel="successor-version"', '</docs>; rel="deprecation"'} < set(links.split(", "))
    assert 'rel="next"' in links, "and still leads to the next page"
    assert answer.get_json() == usual.get_json()
    assert "Deprecation" not in api.call("GET", "/v1/lots").headers
    # A refusal of it says so, too; and the description.
    assert api.call("GET", "/v1/parts?limit=x").headers["Deprecation"] == "@1798761600"
    described: dict[str, Any] = {"paths": {"/v1/parts": {"get": {"operationId": "list_parts", "description": "All."}}}}
    describe(described)
    told = described["paths"]["/v1/parts"]["get"]
    assert (told["deprecated"], told["description"]) == (
        True, "All.\n\nTo go: it works until 1 January 2028. In its place: /v1/items.",
    )  # fmt: skip


@ONE_ENGINE
def test_an_act_that_needs_no_field_takes_an_empty_body_of_a_client_that_names_its_kind(api: Api) -> None:
    part = makers.started_part(api, need_g=None)
    answer = api.call("POST", f"/v1/parts/{part}/closing", b"", Content_Type="application/json")
    assert (answer.status_code, answer.get_json()["state"]) == (201, "laid up")
    problem = api.call("POST", "/v1/places", b"", Content_Type="application/json", who="lead")
    assert (problem.status_code, "Send {}" in problem.get_json()["detail"]) == (400, True)


@ONE_ENGINE
def test_a_name_that_stands_twice_in_a_body_is_refused_since_either_could_be_meant(api: Api) -> None:
    headers = {"Authorization": f"Bearer {api.shop.keys['lead']}", "Content-Type": "application/json"}
    body = b'{"reference": "PO 1", "lines": [{"part_number": "HY-204", "quantity": 2, "quantity": 20}]}'
    answer = api.client.post("/v1/orders", data=body, headers=headers)
    assert (answer.status_code, answer.get_json()["detail"]) == (
        400, "'quantity' stands more than once in one object of the body; send it once."
    )  # fmt: skip
    assert api.get("/v1/orders") == []


def test_an_empty_tag_in_if_match_is_the_tag_of_nothing(api: Api) -> None:
    for tags in ('""', 'W/"", "x"', '"YHV", "", "_$c*=7h"'):
        answer = api.call(
            "PATCH", "/v1/site", {"late_after_min": 30, "why": "as agreed"}, who="administrator", If_Match=tags
        )
        assert answer.status_code == 412, answer.get_data(as_text=True)
