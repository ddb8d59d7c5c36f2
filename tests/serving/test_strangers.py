"""What somebody without a key may send: a file to be hashed, now and then, and nothing else."""

from io import BytesIO
from typing import Any

from service.app import create_app
from service.config import Settings
from service.pages.verifying import may_send


def test_files_to_be_hashed_are_let_in_one_after_the_other_and_nothing_else_is() -> None:
    app = create_app(Settings(database="sqlite:///never-opened.db", upload_mb=1))

    def asks(method: str, path: str, address: str = "192.0.2.7") -> tuple[bool, Any]:
        environ = {"REQUEST_METHOD": method, "PATH_INFO": path, "REMOTE_ADDR": address}
        return may_send(app, environ), environ

    for method, path in (("GET", "/verify"), ("POST", "/v1/documents"), ("POST", "/verify/x"), ("POST", "/")):
        assert not asks(method, path)[0]
    assert [asks("POST", "/verify")[0] for _ in range(20)] == [True] * 20
    let_in, environ = asks("POST", "/verify")
    assert not let_in
    assert asks("POST", "/verify", "192.0.2.8")[0], "another address is not kept waiting"
    client = app.test_client()
    page = client.post("/verify", environ_overrides=environ)
    assert (page.status_code, "Too many files" in page.get_data(as_text=True)) == (429, True)
    assert client.post("/verify").status_code == 422
    long = client.post("/verify", data={"file": (BytesIO(b"x" * 1_200_000), "long.pdf")})
    assert (long.status_code, "too long to be one of ours" in long.get_data(as_text=True)) == (413, True)
    other = client.post("/verify", data={"file": "no file at all"})
    assert (other.status_code, "No file came" in other.get_data(as_text=True)) == (422, True)
