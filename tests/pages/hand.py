"""A hand at the pages without a browser: it reads a page, fills in one of its forms, and sends what a browser would."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

HTML = {"Accept": "text/html"}


@dataclass
class Form:
    """A form as it stands on the page: where it goes, and what it sends if nothing is touched."""

    action: str
    method: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    boxes: list[tuple[str, str, int]] = field(default_factory=list)
    buttons: list[str] = field(default_factory=list)


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._open: Form | None = None
        self._select: str | None = None
        self._chosen: str | None = None
        self._button = False

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        of = dict(attributes)
        if tag == "form":
            self._open = Form(of.get("action") or "", of.get("method") or "get")
            self.forms.append(self._open)
        if self._open is None:
            return
        name = of.get("name")
        ticked = of.get("type") not in ("checkbox", "radio") or "checked" in of
        if tag == "input" and name and of.get("type") == "checkbox":
            # Where among what is sent it stands: the last of one name counts.
            self._open.boxes.append((name, of.get("value") or "on", len(self._open.fields)))
        if tag == "input" and name and ticked:
            self._open.fields.append((name, of.get("value") or ""))
        if tag == "select":
            self._select, self._chosen = name, None
        if tag == "option" and self._select and (self._chosen is None or "selected" in of):
            self._chosen = of.get("value")
            self._text_is_value = self._chosen is None
        self._button = tag == "button" or (self._button and tag != "form")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        if tag == "select" and self._open is not None and self._select:
            self._open.fields.append((self._select, self._chosen or ""))
            self._select = None
        if tag == "button":
            self._button = False

    def handle_data(self, data: str) -> None:
        if self._select and self._chosen is None and data.strip():
            self._chosen = data.strip()
        if self._button and self._open is not None and data.strip():
            self._open.buttons.append(data.strip())


@dataclass
class Hand:
    """Somebody at a tablet, by the test client of the service."""

    client: Any
    page: str = ""
    at: str = ""
    status: int = 0

    def sign_on(self, key: str) -> "Hand":
        assert self.client.post("/enter", data={"key": key}).status_code == 303
        return self

    def open(self, path: str) -> str:
        return self._seen(self.client.get(path, headers=HTML), path)

    def tap(self, button: str, **filled: Any) -> str:
        """Fill in the form with this button and send it; a name that stands there twice takes a list."""
        parser = _Forms()
        parser.feed(self.page)
        form = next((f for f in parser.forms if button in f.buttons), None)
        assert form is not None, (button, [f.buttons for f in parser.forms], self.at)
        names = {name for name, _ in form.fields}
        boxed = {name for name, _, _ in form.boxes}
        sent = _with_boxes(form, filled)
        for name, value in filled.items():
            given = [] if name in boxed else value if isinstance(value, list) else [value]
            sent += [(name, str(one)) for one in given]
        unknown = {name for name in filled if name not in names and f'name="{name}"' not in self.page}
        assert not unknown, unknown
        if form.method == "post":
            data: dict[str, list[str]] = {}
            for name, value in sent:
                data.setdefault(name, []).append(value)
            sending = {"data": data, "headers": HTML, "follow_redirects": True}
            return self._seen(self.client.post(form.action, **sending), form.action)
        asking = {"query_string": sent, "headers": HTML, "follow_redirects": True}
        return self._seen(self.client.get(form.action, **asking), form.action)

    def _seen(self, answer: Any, path: str) -> str:
        self.page, self.status = answer.get_data(as_text=True), answer.status_code
        self.at = answer.request.path if answer.request else path
        return self.page


def _with_boxes(form: Form, filled: dict[str, Any]) -> list[tuple[str, str]]:
    """What was not filled in, and the boxes that were ticked, in the order in which a browser sends them."""
    boxes = {name: [] for name, _, _ in form.boxes if name in filled}
    sent: list[tuple[str, str]] = []
    for position in range(len(form.fields) + 1):
        for name, value, before in form.boxes:
            if before == position and name in boxes:
                wanted = filled[name] if isinstance(filled[name], list) else [filled[name]]
                if value in [str(one) for one in wanted]:
                    sent.append((name, value))
        if position < len(form.fields):
            name, value = form.fields[position]
            if name in boxes and (name, value, position) in form.boxes:
                continue
            if name in boxes or name not in filled:
                sent.append((name, value))
    return sent


def hand_of(api: Any, who: str = "laminator") -> Hand:
    return Hand(api.client.application.test_client()).sign_on(api.shop.keys[who])
