"""Documents come back as what they are; what is said about them is taken as it was given, or refused."""

from typing import Any
from urllib.parse import quote

import pytest

PDF = b"%PDF-1.7 (a certificate)"


@pytest.mark.parametrize(
    ("content", "kind"),
    [(PDF, "application/pdf"), (b"\xff\xd8\xff picture", "image/jpeg"), (b"lot;value\n", "text/csv")],
)
def test_a_document_comes_back_under_a_type_that_the_description_names(api: Any, content: bytes, kind: str) -> None:
    kept = api.call("POST", "/v1/documents?name=paper", content, who="lead").get_json()
    answer = api.call("GET", f"/v1/documents/{kept['id']}", who="lead")
    described = api.client.get("/openapi.json").get_json()["paths"]["/v1/documents/{document}"]["get"]
    assert (answer.mimetype, answer.get_data()) == (kind, content)
    assert kind in described["responses"]["200"]["content"]


def test_a_name_too_long_or_with_marks_that_nobody_sees_is_refused_not_cut(api: Any) -> None:
    answer = api.call("POST", f"/v1/documents?name={'n' * 121}", PDF, who="lead")
    assert (answer.status_code, answer.get_json()["detail"]) == (422, "name: Give at most 120 characters.")
    assert api.call("POST", f"/v1/documents?name={'n' * 120}", PDF, who="lead").status_code == 201
    for unseen, name in (("\u202e", "RIGHT-TO-LEFT OVERRIDE (U+202E)"), ("\u2066", "LEFT-TO-RIGHT ISOLATE (U+2066)")):
        answer = api.call("POST", f"/v1/documents?name={quote(f'cert{unseen}fdp.exe')}", PDF, who="lead")
        assert answer.status_code == 422
        assert name in answer.get_json()["errors"][0]["detail"]
